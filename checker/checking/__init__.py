"""Judging one record: what is asked of it, what every rule says, and the report on it."""
