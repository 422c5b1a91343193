"""The shelf page."""
