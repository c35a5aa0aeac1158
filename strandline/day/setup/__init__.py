"""``strandline day new``: a day's folder, its roster and its cards."""
