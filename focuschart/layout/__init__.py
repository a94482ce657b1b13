"""The page layout: turns numbers and labels into pages of shapes in mm."""
