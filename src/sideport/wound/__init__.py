"""The cut: where, how long, and what it does to the cornea."""
