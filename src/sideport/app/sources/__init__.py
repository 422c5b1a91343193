"""Where the numbers come from."""
