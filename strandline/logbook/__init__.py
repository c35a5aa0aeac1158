"""``strandline logbook``: export, import, back up and check the logbook."""
