"""What people touch: commands, messages, pages."""

__version__ = "0.1.0"
