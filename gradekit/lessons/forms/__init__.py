"""The kinds of question: a function that draws one, and the form that its kind makes of it.

A line of a topic calls the form with the name of a template and what the function takes after its
generator: `compute("pitting sum", "pren_16n", ["CrNiMo"], 0.02)`.
"""
