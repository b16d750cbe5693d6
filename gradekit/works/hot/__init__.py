"""The hot mill."""
