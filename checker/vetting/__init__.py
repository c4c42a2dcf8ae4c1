"""For those who write packs: cases run, their strength, two packs compared."""
