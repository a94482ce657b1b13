"""Drawing: numbers and labels in, pages of shapes out."""
