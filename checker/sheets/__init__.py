"""Sheets: what is still to be measured laid out for the bench, and what comes back read."""
