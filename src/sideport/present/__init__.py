"""Drawings, charts and printed sheets."""
