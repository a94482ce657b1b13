"""The straight line from a kit to the solved chart of each rig."""
