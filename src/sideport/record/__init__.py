"""The journal's room: entries that are never changed, the clock that orders them, and what they add up to."""

from .conflicts import Conflict, conflicts
from .entry import Entry, JournalError
from .facts import Fact, facts_of, union
from .kinds import Kind
from .subject import SubjectKind, root_of, subject

__all__ = [
    "Conflict", "Entry", "Fact", "JournalError", "Kind", "SubjectKind", "conflicts", "facts_of", "root_of", "subject",
    "union",
]  # fmt: skip
