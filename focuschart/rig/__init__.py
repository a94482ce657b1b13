"""Rigs: the parts of a kit assembled, before any mark is computed: lengths, loads, openings."""
