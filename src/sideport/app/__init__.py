"""The Django project: a local-first site on the loopback address, with one slice for each part of the work."""
