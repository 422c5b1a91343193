"""Complication odds, technique advice and who may operate."""
