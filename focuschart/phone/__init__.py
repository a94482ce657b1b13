"""A kit's rigs as one page for a phone: its data from the charts, and the page around them."""
