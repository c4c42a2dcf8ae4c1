"""Judging: arrays of values against arrays of limits, with the doubt about each."""
