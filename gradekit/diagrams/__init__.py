"""Constitution diagrams: geometry, placing, reading, dilution, solidification."""
