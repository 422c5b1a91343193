"""Template filters of the people slice."""
