"""Template tags of the theatre."""
