"""``strandline`` alone: what there is and what comes next, or the ways to begin."""
