"""Axle loads and the limits of the plate."""
