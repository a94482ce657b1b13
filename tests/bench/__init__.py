"""Speed and memory as ratios within one run, printed, never asserted."""
