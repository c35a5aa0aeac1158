"""A reading drawn on its photo."""
