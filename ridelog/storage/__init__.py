"""The log in one SQLite file: what it holds, and how it is kept whole."""
