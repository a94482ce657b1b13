"""Charts, checks, fits and comparisons as text for people and as data for machines."""
