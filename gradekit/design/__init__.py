"""Working backwards: from a brief to an aim and a window that heats keep."""
