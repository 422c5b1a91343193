"""Accounts, roles, the second factor, the lock of shared tablets, and who read what."""
