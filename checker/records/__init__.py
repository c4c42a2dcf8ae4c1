"""Records: what was written down, understood reading by reading."""
