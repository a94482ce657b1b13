"""Photographs of ruler and marker strips, read by their tags: the only room that imports OpenCV."""
