"""``strandline ride``: record rides, and list, show and amend them."""
