"""Versioned numbers with value, spread, count and source."""

from .advice import Effect, Flag, Reason, Severity
from .knowledge import Knowledge
from .load import load_published
from .number import Basis, Number, Source

__all__ = ["Basis", "Effect", "Flag", "Knowledge", "Number", "Reason", "Severity", "Source", "load_published"]
