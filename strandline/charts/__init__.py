"""``strandline chart``: used stroke, settings by load, and history as pictures."""
