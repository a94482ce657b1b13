"""Whether a rig fits, covers and can be carried: a kit's facts put through optics and statics."""
