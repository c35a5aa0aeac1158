"""Numbers, units and uncertainty."""
