"""The kinds of question, each made from a declaration by a function that draws exercises."""
