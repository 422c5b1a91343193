"""Light and notation: vergence, keratometry, power vectors, visual acuity."""
