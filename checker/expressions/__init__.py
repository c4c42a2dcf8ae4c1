"""The small language in which packs calculate: read, checked, and evaluated on arrays."""
