"""A clinical number with its origin."""

from dataclasses import dataclass
from enum import Enum

__all__ = ["Basis", "Number", "Source"]


class Basis(Enum):
    """How far a number may be trusted to be what the source says."""

    PUBLISHED = "published"
    COMMON_PRACTICE = "common practice"
    RECALLED = "recalled"


@dataclass(frozen=True, slots=True)
class Source:
    """One work in the bibliography (``sources.toml``)."""

    key: str
    citation: str
    kind: str
    """``article``, ``standard``, ``guideline``, ``chapter``, ``teaching page`` or ``practice``."""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Number:
    """One clinical number: value, spread, unit, count, source and basis."""

    key: str
    """Dotted: file stem, then the TOML tables, e.g. ``risk_pcr.narendran2009.age_80_89``."""
    value: float
    unit: str
    source: str
    """Key into the bibliography."""
    basis: Basis
    spread: float | None = None
    n: int | None = None
    locator: str = ""
    """Page, table or equation within the source."""
    note: str = ""
