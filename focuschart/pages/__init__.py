"""Pages made from charts, checks and benches. Nothing here depends on a renderer."""
