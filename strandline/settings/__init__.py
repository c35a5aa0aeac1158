"""``strandline settings``: defaults that are typed once."""
