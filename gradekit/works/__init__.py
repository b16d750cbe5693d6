"""Can the works make it: a module a step, from the charge to the finish."""
