"""Explorers: state (data), views (strings), controls and panels (widgets); computes nothing.

How an explorer is made is told in `gradekit.app.widgets.panel`.
"""
