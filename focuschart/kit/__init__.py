"""The kit file: what is in the bag and what was read on the bench, as facts and nothing else."""
