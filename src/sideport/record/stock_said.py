"""What is said of the shelf, the team, the day and the plan."""

from dataclasses import dataclass
from datetime import date, datetime
from enum import Enum

from ..day.settings import DaySettings
from ..optics.side import Side
from ..shelf.box import Box

__all__ = ["BoxMoved", "BoxReceived", "DaySet", "EyeListed", "FolderRead", "Listing", "Move", "PlanMade"]


class Move(Enum):
    """What happened to lenses of a box, other than being implanted."""

    USED = "used"
    """Outside any recorded operation; an implanted lens is said by the operation alone."""
    WASTED = "wasted"
    """Opened or dropped and not implanted."""
    RETURNED = "returned"
    """Came back to the shelf."""
    SENT = "sent"
    """To another unit, or back to the maker."""
    COUNTED = "counted"
    """The shelf was counted: this many are there, whatever was thought before."""


@dataclass(frozen=True, slots=True)
class BoxReceived:
    """Lenses that came in under one label."""

    box: Box
    """``count`` is what came in with this receipt."""
    receipt: str = ""
    """Two entries with one receipt tell of one delivery, so that a list read in on two laptops counts once."""


@dataclass(frozen=True, slots=True)
class BoxMoved:
    """A move of stock."""

    move: Move
    count: int
    """0 or more; for `Move.COUNTED` what is there."""
    operation_id: str = ""
    reason: str = ""
    happened: datetime | None = None

    def __post_init__(self) -> None:
        if self.count < 0:
            raise ValueError("a count of lenses is 0 or more; say with the move which way they went")


class Listing(Enum):
    """What an eye is to a day."""

    LISTED = "listed"
    """To be operated on."""
    REGISTER = "register"
    """On the day's register as the fellow eye."""
    OFF = "off"
    """Taken off the day."""


@dataclass(frozen=True, slots=True)
class EyeListed:
    """An eye put on a day's list or taken off it; the latest word holds."""

    side: Side
    day: date
    listing: Listing
    position: int = 0
    """Place on the register, from 0."""


@dataclass(frozen=True, slots=True)
class DaySet:
    """A day's settings; the latest word holds."""

    settings: DaySettings
    team: tuple[str, ...] = ()
    """Who is there, by name; empty for everybody on the team."""
    lenses: tuple[str, ...] = ()
    """Lens models to choose from, by name; empty for all that are listed."""


@dataclass(frozen=True, slots=True)
class PlanMade:
    """A plan, whole."""

    document: str
    """The text of ``plan.json``."""
    unit: str
    day: date
    inputs_sha256: str
    knowledge_version: str
    program_version: str


@dataclass(frozen=True, slots=True)
class FolderRead:
    """A folder of spreadsheets that was read in."""

    digest: str
    people: int
    boxes: int
