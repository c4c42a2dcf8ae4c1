"""Findings: what was judged, in numbers and words a person can act on."""
