"""Stored plans, and the day and eye pages that show them."""
