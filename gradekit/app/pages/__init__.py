"""Explorers that need no kernel: one file of HTML, computed in the page."""
