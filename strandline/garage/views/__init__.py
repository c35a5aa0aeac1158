"""The pages, by subject; each calls the functions that the commands call."""
