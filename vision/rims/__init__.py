"""Rims on the shaft: the seal, the edges of the marker, the far end."""
