"""The slab caster."""
