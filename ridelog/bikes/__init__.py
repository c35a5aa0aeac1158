"""The bike's file: reading, checking and writing it."""
