"""Words of patients' pages."""
