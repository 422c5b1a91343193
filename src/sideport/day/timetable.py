"""A timetable under construction: where a case first fits without anyone or anything being used twice."""

from collections import defaultdict
from dataclasses import dataclass, field

from .rules import Case, Hands, Placing, Rules, Supervision, likeness

__all__ = ["Spot", "Timetable", "first_fit"]

Busy = list[tuple[float, float, int]]
"""Start, end and units taken, by start."""


@dataclass(slots=True)
class Spot:
    """A place in the timetable that a case could take."""

    starts: float
    table: int
    hands: Hands
    alike: int
    """2 for the same lens as the case before it at the table, 1 for the same side."""

    @property
    def ends(self) -> float:
        """When the operation is over, with what makes the hands less wanted."""
        return self.starts + self.hands.minutes + self.hands.cost


def first_fit(busy: Busy, start: float, length: float, room: int) -> float:
    """Earliest time from ``start`` at which ``room`` units stay untouched for ``length``.

    Parameters
    ----------
    busy : list of tuple
        Start, end and units of what is taken, sorted by start.
    start, length : float
        [min].
    room : int
        Units that may be taken by others in that time; 0 when everything is needed.

    Returns
    -------
    float
        [min].
    """
    while True:
        overlapping = [entry for entry in busy if entry[1] > start and entry[0] < start + length]
        if not overlapping:
            return start
        peak = max(
            sum(units for begin, end, units in overlapping if begin <= at < end)
            for at in (max(start, entry[0]) for entry in overlapping)
        )
        if peak <= room:
            return start
        start = min(end for _, end, _ in overlapping)


@dataclass(slots=True)
class Timetable:
    """What is taken so far; cases are added one by one."""

    rules: Rules
    tables: list[Busy] = field(default_factory=list)
    people: defaultdict[str, Busy] = field(default_factory=lambda: defaultdict(list))
    sets: defaultdict[str, Busy] = field(default_factory=lambda: defaultdict(list))
    at_table: list[list[tuple[float, float, Case]]] = field(default_factory=list)
    """Start, end and case at each table, by start."""
    placed: list[tuple[Case, Spot]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.tables = [[] for _ in range(self.rules.tables)]
        self.at_table = [[] for _ in range(self.rules.tables)]

    def spot(self, case: Case, hands: Hands, table: int) -> Spot | None:
        """The first place at a table that breaks no hard rule; ``None`` where the phases leave none."""
        rules = self.rules
        length = hands.minutes
        start, latest = case.not_before_min, float("inf")
        if case.starts_min is None:
            for begins, ends, other in self.at_table[table]:
                if other.starts_min is not None:
                    continue
                if other.phase < case.phase:
                    start = max(start, ends)
                elif other.phase > case.phase:
                    latest = min(latest, begins)
        watch = 1 if hands.supervision is Supervision.IN_THEATRE else rules.watched_at_once
        wanted = [
            (self.tables[table], length + rules.turnover_min, 0),
            (self.people[hands.operator], length, 0),
        ]
        if hands.supervisor is not None:
            wanted.append((self.people[hands.supervisor], length, rules.watched_at_once - watch))
        if case.instruments in rules.sets:
            room = max(rules.sets[case.instruments], 1) - 1
            wanted.append((self.sets[case.instruments], length + rules.sterilise_min, room))
        settled = False
        while not settled:
            settled = True
            for busy, taken, room in wanted:
                later = first_fit(busy, start, taken, room)
                if later > start:
                    start, settled = later, False
        if start + length > latest:
            return None
        before = max(
            (entry for entry in self.at_table[table] if entry[0] < start), key=lambda entry: entry[0], default=None
        )
        same_lens, same_side = likeness(before[2] if before else None, case)
        return Spot(start, table, hands, 2 * same_lens + same_side)

    def spots(self, case: Case) -> list[Spot]:
        """The first place at each table and in each hands."""
        tables = range(self.rules.tables) if case.table is None else (case.table - 1,)
        found = (self.spot(case, hands, table) for hands in case.hands for table in tables)
        return [spot for spot in found if spot is not None]

    def put(self, case: Case, spot: Spot) -> None:
        """Takes a place for good."""
        rules, hands = self.rules, spot.hands
        ends = spot.starts + hands.minutes
        whole = rules.watched_at_once
        insert(self.tables[spot.table], (spot.starts, ends + rules.turnover_min, 1))
        insert(self.people[hands.operator], (spot.starts, ends, whole))
        if hands.supervisor is not None:
            watch = 1 if hands.supervision is Supervision.IN_THEATRE else whole
            insert(self.people[hands.supervisor], (spot.starts, ends, watch))
        if case.instruments in rules.sets:
            insert(self.sets[case.instruments], (spot.starts, ends + rules.sterilise_min, 1))
        self.at_table[spot.table].append((spot.starts, ends, case))
        self.placed.append((case, spot))

    def placings(self) -> tuple[Placing, ...]:
        """The finished list, by start."""
        ordered = sorted(self.placed, key=lambda entry: (entry[1].starts, entry[1].table))
        return tuple(
            Placing(case.key, order, spot.table + 1, spot.starts, spot.starts + spot.hands.minutes, spot.hands)
            for order, (case, spot) in enumerate(ordered, start=1)
        )


def insert(busy: Busy, entry: tuple[float, float, int]) -> None:
    """Keeps the list sorted by start; most entries come last."""
    busy.append(entry)
    if len(busy) > 1 and busy[-2][0] > entry[0]:
        busy.sort()
