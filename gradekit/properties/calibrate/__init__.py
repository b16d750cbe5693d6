"""Published relations corrected by a works' own measurements."""
