"""``strandline pool``: exchange settings with other owners, and put them together."""
