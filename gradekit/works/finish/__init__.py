"""The finish."""
