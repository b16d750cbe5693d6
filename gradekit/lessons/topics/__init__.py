"""The templates of each topic: declarations, and no coefficient among them."""
