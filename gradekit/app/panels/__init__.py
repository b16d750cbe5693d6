"""The explorers."""
