"""``strandline demo``: the sample photos and an invented bike."""
