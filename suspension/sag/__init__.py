"""Sag, its windows, and travel at the wheel."""
