"""Lengths with their uncertainty budgets, and several photos together."""
