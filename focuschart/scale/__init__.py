"""The scale of a ring: a law that relates arc to subject distance, fitted to readings and priors.

An arc is a figure on the ruler: mm round the barrel from the zero of the ruler strip.
"""
