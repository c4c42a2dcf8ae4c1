"""Pages: the report, the uses side by side and the hand-over, each one file that needs nothing else."""
