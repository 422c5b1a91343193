"""Files in and out: spreadsheets, the plan's JSON."""
