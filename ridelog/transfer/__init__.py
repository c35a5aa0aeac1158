"""Export to JSON and CSV, and import."""
