"""How long the parts take, as ratios where a ratio says more. Run with ``make bench``."""
