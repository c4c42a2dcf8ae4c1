"""Tables too large for memory, judged part by part: on one processor, on several, or on other machines."""
