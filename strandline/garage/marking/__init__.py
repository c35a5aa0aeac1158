"""A hand on the reading: marks that a thumb sets on a photo, and what they measure."""
