"""Lens models, published power formulas and the forecast of refraction."""
