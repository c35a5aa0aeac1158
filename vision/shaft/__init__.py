"""Finding and fitting the shaft, and checks of its scale."""
