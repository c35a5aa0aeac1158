"""``strandline read``: the lengths on a shaft from photos."""
