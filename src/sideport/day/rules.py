"""The rules of the list as data: what may never happen, and what each thing to avoid is worth in minutes."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum, IntEnum
from statistics import median

from ..errors import ImpossibleInputError
from ..knowledge import Knowledge
from ..lens.model import Placement
from ..optics.side import Side

__all__ = [
    "Case", "Hands", "Phase", "Placing", "Rules", "Supervision", "Weights", "check_rules", "likeness", "long_from",
    "weights",
]  # fmt: skip


class Phase(IntEnum):
    """Part of the day an eye belongs to; at no table does a later phase come before an earlier one."""

    EARLY = 0
    """Children and people with diabetes: they have fasted or must eat."""
    ORDINARY = 1
    LAST = 2
    """Blood-borne infection: the table is cleaned afterwards at leisure."""


class Supervision(Enum):
    """How close a supervisor stays. Either way the supervisor does not operate in these minutes."""

    THROUGHOUT = "throughout"
    """At the operator's side, watching nobody else."""
    IN_THEATRE = "in theatre"
    """In the room; may watch as many learners at once as the unit allows."""


@dataclass(frozen=True, slots=True)
class Hands:
    """One allowed way to staff a case."""

    operator: str
    supervisor: str | None
    minutes: float
    cost: float = 0.0
    """What makes these hands less wanted than the best ones, in minutes of the day's end."""
    supervision: Supervision = Supervision.THROUGHOUT


@dataclass(frozen=True, slots=True)
class Case:
    """One eye as the list sees it."""

    key: str
    phase: Phase
    minutes: float
    operator: str
    supervisor: str | None
    side: Side
    lens: tuple[str, float, Placement] | None
    """Model, power and placement, to keep look-alikes apart."""
    supervision: Supervision = Supervision.THROUGHOUT
    instruments: str = ""
    """Kind of instrument set it uses up until sterilised; empty for one that never runs short."""
    ready_min: float = 0.0
    """Not before: the block must have taken."""
    table: int | None = None
    """Fixed by a person: 1 for the first table."""
    starts_min: float | None = None
    """Fixed by a person: minutes after the day begins."""
    others: tuple[Hands, ...] = ()
    """Other hands that may do it."""

    @property
    def hands(self) -> tuple[Hands, ...]:
        """Every way to staff it, the proposed one first."""
        return (Hands(self.operator, self.supervisor, self.minutes, 0.0, self.supervision), *self.others)

    @property
    def not_before_min(self) -> float:
        """Earliest start that block and pin allow."""
        return self.ready_min if self.starts_min is None else max(self.ready_min, self.starts_min)


@dataclass(frozen=True, slots=True)
class Placing:
    """Where, when and by whom a case is done."""

    key: str
    order: int
    """1 for the first to start."""
    table: int
    """1 for the first table."""
    starts_min: float
    """Minutes after the day begins."""
    ends_min: float
    hands: Hands


@dataclass(frozen=True, slots=True)
class Weights:
    """What one breach of each soft rule is worth, in minutes of the day's end."""

    same_lens: float = 0.0
    """The same lens twice running at a table."""
    same_side: float = 0.0
    """The same side twice running at a table."""
    long_last: float = 0.0
    """A table that ends on a long case."""
    pin_late: float = 0.0
    """Each minute that a case starts after the time it is pinned to."""
    out_of_turn: float = 0.0
    """Each pair at a table that a pin puts in the wrong part of the day."""
    long_ratio: float = float("inf")
    """A case is long from this multiple of the list's median."""


@dataclass(frozen=True, slots=True)
class Rules:
    """What holds for the whole list."""

    tables: int
    turnover_min: float
    """Between two cases at one table."""
    sets: Mapping[str, int] = field(default_factory=dict)
    """Instrument sets by kind; a kind that is not named never runs short."""
    sterilise_min: float = 0.0
    """From a case's end until its set is ready again."""
    watched_at_once: int = 1
    """Learners that one supervisor may watch at once, where being in theatre is enough."""
    weights: Weights = field(default_factory=Weights)


def weights(knowledge: Knowledge) -> Weights:
    """The unit's weights of the soft rules.

    Parameters
    ----------
    knowledge : Knowledge
        Holds ``order.toml``.

    Returns
    -------
    Weights
    """
    minutes = {name: number.value for name, number in knowledge.table("order.weights").items()}
    return Weights(**minutes, long_ratio=knowledge.value("order.long_case.ratio"))


def check_rules(cases: Sequence[Case], rules: Rules) -> None:
    """Refuses a list that cannot be meant.

    Parameters
    ----------
    cases : sequence of Case
    rules : Rules

    Raises
    ------
    ImpossibleInputError
        On no table, negative times, a table that does not exist, a key that stands twice, or an operator who
        supervises the own case.
    """
    if rules.tables < 1:
        raise ImpossibleInputError(f"The day has {rules.tables} operating tables; write 1 or more in its settings.")
    for what, minutes in (("turnover", rules.turnover_min), ("sterilising", rules.sterilise_min)):
        if not minutes >= 0:
            raise ImpossibleInputError(f"The {what} is {minutes} minutes; write 0 or more in the day's settings.")
    if rules.watched_at_once < 1:
        raise ImpossibleInputError("A supervisor watches at least one learner; write 1 or more in the settings.")
    if len({case.key for case in cases}) < len(cases):
        raise ImpossibleInputError("Two cases on the list have one key; give each eye its own.")
    for case in cases:
        if case.table is not None and not 1 <= case.table <= rules.tables:
            raise ImpossibleInputError(f"A case is pinned to table {case.table}; pin it to one of 1 to {rules.tables}.")
        if not min(case.ready_min, case.starts_min or 0.0) >= 0:
            raise ImpossibleInputError("A case is to start before the day begins; pin it to a later time.")
        for hands in case.hands:
            if not 0 < hands.minutes < float("inf"):
                raise ImpossibleInputError(f"A case takes {hands.minutes} minutes; give a positive number.")
            if hands.operator == hands.supervisor:
                raise ImpossibleInputError("An operator supervises the own case; name somebody else.")


def likeness(before: Case | None, case: Case) -> tuple[bool, bool]:
    """Whether two neighbours at a table take the same lens, and whether they are of the same side.

    Parameters
    ----------
    before : Case or None
        The earlier one; ``None`` when the table was empty.
    case : Case
        The later one.

    Returns
    -------
    tuple of bool
    """
    if before is None:
        return False, False
    return case.lens is not None and case.lens == before.lens, case.side is before.side


def long_from(cases: Sequence[Case], rules: Rules) -> float:
    """Minutes from which a case counts as long.

    Parameters
    ----------
    cases : sequence of Case
    rules : Rules

    Returns
    -------
    float
        Minutes [min]; infinite for an empty list.
    """
    return rules.weights.long_ratio * median(case.minutes for case in cases) if cases else float("inf")
