"""A listed eye on its way through the rooms."""

from dataclasses import dataclass

from ..eye.belief import EyeBelief
from ..eye.person import EyeRecord, Person
from ..eye.summary import EyeSummary
from ..knowledge.advice import Flag
from ..optics.side import Side

__all__ = ["ListedEye"]


@dataclass(frozen=True, slots=True, eq=False)
class ListedEye:
    """One eye to be operated on with what is known and believed of it."""

    person: Person
    record: EyeRecord
    belief: EyeBelief
    summary: EyeSummary
    flags: tuple[Flag, ...]
    target_d: float

    @property
    def side(self) -> Side:
        """Right or left."""
        return self.record.side

    @property
    def only_eye(self) -> bool:
        """Whether the fellow eye cannot see."""
        return self.person.only_eye is self.side
