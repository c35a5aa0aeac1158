"""``strandline card`` and ``strandline card-of-settings``: what is printed."""
