"""Measurements and the belief about both eyes of one person."""
