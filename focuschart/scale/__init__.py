"""From ring to distance: the law of each ring, fitted to its readings with its priors.

An arc is a ruler figure: mm round the barrel from the zero of the ruler strip.
"""
