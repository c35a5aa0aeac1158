"""Whose leg a photo shows: the card and its tags, the roster, the clock."""
