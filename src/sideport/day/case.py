"""A listed eye on its way through the rooms."""

import re
from dataclasses import dataclass

from ..eye.belief import EyeBelief
from ..eye.person import EyeRecord, Person
from ..eye.summary import EyeSummary
from ..knowledge.advice import Flag
from ..optics.side import Side

__all__ = ["ListedEye", "eye_key"]


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
    def key(self) -> str:
        """The plan's key of the eye."""
        return eye_key(self.person.person_id, self.record)

    @property
    def side(self) -> Side:
        """Right or left."""
        return self.record.side

    @property
    def only_eye(self) -> bool:
        """Whether the fellow eye cannot see."""
        return self.person.only_eye is self.side


def eye_key(person_id: str, record: EyeRecord) -> str:
    """A key that is safe in an address and different for different people.

    Parameters
    ----------
    person_id : str
        The unit's own.
    record : EyeRecord
        Says which eye.

    Returns
    -------
    str
        ``<person_id>-right`` with unusual characters replaced.
    """
    plain = re.sub(r"[^A-Za-z0-9-]", lambda match: f"_{ord(match.group()):x}_", person_id)
    return f"{plain}-{record.side.value}"
