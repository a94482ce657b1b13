"""From charts and checks to the pages that are printed. Nothing here knows a renderer."""
