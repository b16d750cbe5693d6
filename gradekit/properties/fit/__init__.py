"""A user's own tests as a relation."""
