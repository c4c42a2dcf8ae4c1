"""Units and dimensions, as the trade names them."""
