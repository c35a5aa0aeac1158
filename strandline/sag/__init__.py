"""``strandline sag``: sag from lengths or photos, against its windows."""
