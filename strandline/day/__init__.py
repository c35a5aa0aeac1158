"""A tech day: a folder of photos becomes results for every bike, and a list of what could not be told."""
