"""Patients: registering, finding, examining, listing them, and the whole story of an eye."""
