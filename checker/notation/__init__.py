"""Shop notation: quantities read as the trade writes them, and written so."""
