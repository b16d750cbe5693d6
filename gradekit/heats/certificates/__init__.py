"""How works and laboratories lay out tables, and what they mean by a cell."""
