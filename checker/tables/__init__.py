"""Tables of many records, judged as one block: each row an assembly, or each row one value."""
