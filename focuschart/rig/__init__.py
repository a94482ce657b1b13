"""Rigs: the parts of a kit put together, their lengths summed, as plain numbers."""
