"""Used stroke and reserve of one leg."""
