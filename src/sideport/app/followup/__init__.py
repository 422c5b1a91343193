"""Follow-up: who is due, who is late and should be called, what was found, and the patient's slip."""
