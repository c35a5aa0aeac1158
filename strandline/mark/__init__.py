"""``strandline mark``: the marks of one photo in this machine's browser."""
