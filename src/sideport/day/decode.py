"""From a sequence of cases to a timetable and its cost, thousands of times a second."""

from collections.abc import Sequence

from .rules import Case, Placing, Rules, Supervision, long_from

__all__ = ["Decoder", "Slotted"]

Slotted = tuple[int, int, int, float]
"""Case, table from 0, which of its hands, and start."""
NEVER = float("inf")


class Decoder:
    """The list's facts, laid out for speed; decodes any sequence of the same cases.

    Parameters
    ----------
    cases : sequence of Case
    rules : Rules

    Notes
    -----
    Cases are placed in the order of the sequence at the table, and in the hands, where each is over first; nothing is
    placed before what is already there. Every list in which nothing could start earlier without changing the order is
    the decoding of its own order by start. A sequence that would bring an earlier part of the day after a later one at
    every table costs infinity.
    """

    def __init__(self, cases: Sequence[Case], rules: Rules) -> None:
        self.cases = tuple(cases)
        self.rules = rules
        self.whole = rules.watched_at_once
        self.turnover = rules.turnover_min
        named = (name for case in cases for hands in case.hands for name in (hands.operator, hands.supervisor))
        people = sorted({name for name in named if name is not None})
        index = {name: number for number, name in enumerate(people)}
        self.people = len(people)
        self.phase = [int(case.phase) for case in cases]
        self.before = [case.not_before_min for case in cases]
        self.pinned = [case.starts_min for case in cases]
        self.only = [(case.table - 1,) if case.table is not None else tuple(range(rules.tables)) for case in cases]
        lenses = {lens: number for number, lens in enumerate(dict.fromkeys(case.lens for case in cases))}
        self.lens = [-1 - number if case.lens is None else lenses[case.lens] for number, case in enumerate(cases)]
        self.side = [case.side.value for case in cases]
        limit = long_from(cases, rules)
        self.long = [case.minutes >= limit for case in cases]
        kinds = {kind: number for number, kind in enumerate(rules.sets)}
        self.kind = [kinds.get(case.instruments, -1) for case in cases]
        self.counts = [max(count, 1) for count in rules.sets.values()]
        self.hands = [
            [
                (
                    index[hands.operator],
                    -1 if hands.supervisor is None else index[hands.supervisor],
                    hands.minutes,
                    hands.cost,
                    1 if hands.supervision is Supervision.IN_THEATRE else self.whole,
                )
                for hands in case.hands
            ]
            for case in cases
        ]

    def cost(self, sequence: Sequence[int], *, at_most: float = NEVER) -> float:
        """What the decoded list costs [min]; infinity as soon as it must exceed ``at_most``."""
        return self.run(sequence, at_most, None)

    def placings(self, sequence: Sequence[int]) -> tuple[Placing, ...]:
        """The decoded list, by start."""
        slots: list[Slotted] = []
        self.run(sequence, NEVER, slots)
        slots.sort(key=lambda slot: (slot[3], slot[1]))
        found = []
        for order, (number, table, which, start) in enumerate(slots, start=1):
            case = self.cases[number]
            hands = case.hands[which]
            found.append(Placing(case.key, order, table + 1, start, start + hands.minutes, hands))
        return tuple(found)

    def run(  # noqa: PLR0912, PLR0915 - one loop, run tens of thousands of times; calls would double its time
        self, sequence: Sequence[int], at_most: float, slots: list[Slotted] | None
    ) -> float:
        """Places every case; returns the cost and, where asked, the places."""
        weigh, turnover, whole, tables = self.rules.weights, self.turnover, self.whole, self.rules.tables
        table_free, table_phase, table_last = [0.0] * tables, [-1] * tables, [-1] * tables
        table_pinned = [-1] * tables
        person_free = [[0.0] * whole for _ in range(self.people)]
        set_free = [[0.0] * count for count in self.counts]
        finish = cost = 0.0
        for number in sequence:
            kind = self.kind[number]
            ready = self.before[number]
            if kind >= 0 and set_free[kind][0] > ready:
                ready = set_free[kind][0]
            phase = NEVER if self.pinned[number] is not None else self.phase[number]
            best = (NEVER, NEVER, 0.0, 0, 0, 0.0)
            for which, (operator, supervisor, minutes, extra, watch) in enumerate(self.hands[number]):
                start = max(ready, person_free[operator][-1])
                if supervisor >= 0:
                    start = max(start, person_free[supervisor][0 if watch < whole else -1])
                for table in self.only[number]:
                    if table_phase[table] > phase:
                        continue
                    begins = table_free[table] if table_free[table] > start else start
                    ends = begins + minutes + extra
                    if ends > best[0]:
                        continue
                    last = table_last[table]
                    alike = 0.0
                    if last >= 0:
                        if self.lens[last] == self.lens[number]:
                            alike = weigh.same_lens
                        if self.side[last] is self.side[number]:
                            alike += weigh.same_side
                    found = (ends, alike, -table_free[table], table, which, begins)
                    if found < best:
                        best = found
            if best[0] == NEVER:
                return NEVER
            _, alike, _, table, which, start = best
            operator, supervisor, minutes, extra, watch = self.hands[number][which]
            ends = start + minutes
            cost += alike + extra
            pin = self.pinned[number]
            if pin is not None:
                cost += weigh.pin_late * (start - pin)
                cost += weigh.out_of_turn * (table_phase[table] > self.phase[number])
                table_pinned[table] = max(table_pinned[table], self.phase[number])
            else:
                table_phase[table] = self.phase[number]
                cost += weigh.out_of_turn * (table_pinned[table] > self.phase[number])
            table_free[table], table_last[table] = ends + turnover, number
            person_free[operator] = [ends] * whole
            if supervisor >= 0:
                take(person_free[supervisor], ends, watch)
            if kind >= 0:
                take(set_free[kind], ends + self.rules.sterilise_min, 1)
            if ends > finish:
                finish = ends
            if finish + cost > at_most:
                return NEVER
            if slots is not None:
                slots.append((number, table, which, start))
        total = finish + cost + weigh.long_last * sum(self.long[last] for last in table_last if last >= 0)
        return total if total <= at_most else NEVER


def take(free: list[float], until: float, units: int) -> None:
    """The units that are free first are taken until a time; the list stays sorted."""
    free[:units] = [until] * units
    free.sort()
