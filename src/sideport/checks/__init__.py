"""Published check values and the table that compares them with the program."""

from .check import Check, CheckResult, load_checks, run_checks

__all__ = ["Check", "CheckResult", "load_checks", "run_checks"]
