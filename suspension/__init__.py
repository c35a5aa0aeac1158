"""The trade's arithmetic: pure functions and frozen dataclasses."""
