"""The first page: what each role needs to see first."""
