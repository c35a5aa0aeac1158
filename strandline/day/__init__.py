"""A tech day: from a folder of photos to results for every bike, and a list of exceptions."""
