"""Reports: the findings on one record, and the forms they are written in."""
