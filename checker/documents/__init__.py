"""Files as plain data: strict YAML and JSON in which every value keeps its place, and YAML written back."""
