"""Which steel a composition is."""
