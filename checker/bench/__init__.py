"""A measuring session without its terminal: what is asked for next, what a typed text means, what it changed."""
