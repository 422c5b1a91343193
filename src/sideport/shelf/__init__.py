"""The stock as a list of boxes, and giving lenses to eyes."""
