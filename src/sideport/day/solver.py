"""The list as a constraint problem: the best order, and how much could be left. Needs the extra ``schedule``."""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from .rules import Case, Hands, Placing, Rules, Supervision, likeness, long_from
from .score import lower_bound
from .timetable import Timetable

__all__ = ["Solved", "solve"]

TICKS = 100
"""Of a minute: the solver counts in whole numbers."""
WORK = 0.5
"""Units of the solver's own deterministic time; some seconds on two cores."""
WORKERS = 2
GOOD_ENOUGH = 0.005
"""Share by which the list may cost more than what no list can beat."""


@dataclass(frozen=True, slots=True)
class Solved:
    """The solver's list and its proof."""

    placings: tuple[Placing, ...]
    bound: float
    """No list costs less [min]."""


def solve(cases: Sequence[Case], rules: Rules, *, hint: Sequence[Placing], work: float = WORK) -> Solved | None:
    """The best list that the solver finds within a given amount of work.

    Parameters
    ----------
    cases : sequence of Case
        At least one.
    rules : Rules
    hint : sequence of Placing
        A list to start from.
    work : float
        The solver's own deterministic time, so that the same day gives the same list.

    Returns
    -------
    Solved or None
        ``None`` where the solver is not installed or found nothing.

    Notes
    -----
    Each table is a route through its cases; an arc from one case to the next carries the turnover and the price of
    look-alikes. People and instrument sets are resources that cannot be used beyond their number. Minutes are rounded
    up to hundredths; the bound is lowered by the most that the rounding can add: a hundredth a case to the day's end
    and to each pinned case's lateness.
    """
    try:
        from ortools.sat.python import cp_model
    except ImportError:
        return None
    model = Model(cp_model, tuple(cases), rules, horizon=ticks(max(placing.ends_min for placing in hint)) + len(cases))
    model.build()
    model.hint(hint)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = WORKERS
    solver.parameters.interleave_search = True
    solver.parameters.max_deterministic_time = work
    solver.parameters.relative_gap_limit = GOOD_ENOUGH
    status = solver.solve(model.model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    pinned = sum(case.starts_min is not None for case in cases)
    rounding = len(cases) * (1.0 + pinned * rules.weights.pin_late) / TICKS
    bound = solver.best_objective_bound / TICKS - rounding
    return Solved(model.placings(solver), bound)


def ticks(minutes: float) -> int:
    """Minutes in whole ticks, rounded up."""
    return math.ceil(round(minutes * TICKS, 6))


@dataclass(slots=True)
class Model:
    """The variables and constraints of one list."""

    cp: Any
    cases: tuple[Case, ...]
    rules: Rules
    horizon: int
    model: Any = None
    starts: list[Any] = field(default_factory=list)
    ends: list[Any] = field(default_factory=list)
    chosen: list[list[Any]] = field(default_factory=list)
    """For each case one truth value for each of its hands."""
    arcs: dict[tuple[int, int], Any] = field(default_factory=dict)
    """From case to case; -1 is the table before its first and after its last."""
    finish: Any = None
    cost: list[Any] = field(default_factory=list)

    def build(self) -> None:
        """States the whole problem."""
        self.model = self.cp.CpModel()
        late = ticks(max((case.not_before_min for case in self.cases), default=0.0))
        self.horizon = max(self.horizon, late + sum(ticks(max(h.minutes for h in case.hands)) for case in self.cases))
        for case in self.cases:
            self.add_case(case)
        self.finish = self.model.new_int_var(0, self.horizon, "finish")
        for ends in self.ends:
            self.model.add(self.finish >= ends)
        self.share_people()
        self.share_tables_and_sets()
        self.route_tables()
        self.keep_parts_of_day()
        self.keep_pinned_tables()
        whole = self.finish + sum(self.cost)
        self.model.add(whole >= math.floor(lower_bound(self.cases, self.rules) * TICKS))
        self.model.minimize(whole)

    def add_case(self, case: Case) -> None:
        """Start, end and hands of one case."""
        model = self.model
        start = model.new_int_var(ticks(case.not_before_min), self.horizon, "")
        chosen = [model.new_bool_var("") for _ in case.hands]
        model.add_exactly_one(chosen)
        length = sum(flag * ticks(hands.minutes) for flag, hands in zip(chosen, case.hands, strict=True))
        end = model.new_int_var(0, self.horizon, "")
        model.add(end == start + length)
        self.starts.append(start)
        self.ends.append(end)
        self.chosen.append(chosen)
        self.cost += [flag * ticks(hands.cost) for flag, hands in zip(chosen, case.hands, strict=True) if hands.cost]
        if case.starts_min is not None:
            per_tick = max(1, round(self.rules.weights.pin_late))
            self.cost.append(per_tick * (start - ticks(case.starts_min)))

    def share_people(self) -> None:
        """Nobody operates twice at once; a supervisor watches no more than the unit allows."""
        whole = self.rules.watched_at_once
        intervals: dict[str, list[Any]] = defaultdict(list)
        demands: dict[str, list[int]] = defaultdict(list)
        for position, case in enumerate(self.cases):
            for flag, hands in zip(self.chosen[position], case.hands, strict=True):
                interval = self.model.new_optional_fixed_size_interval_var(
                    self.starts[position], ticks(hands.minutes), flag, ""
                )
                watch = 1 if hands.supervision is Supervision.IN_THEATRE else whole
                for person, units in ((hands.operator, whole), (hands.supervisor, watch)):
                    if person is not None:
                        intervals[person].append(interval)
                        demands[person].append(units)
        for person, used in intervals.items():
            if whole == 1:
                self.model.add_no_overlap(used)
            else:
                self.model.add_cumulative(used, demands[person], whole)

    def share_tables_and_sets(self) -> None:
        """No more at once than there are tables, and sets of each kind."""
        self.share(range(len(self.cases)), self.rules.turnover_min, self.rules.tables)
        for kind, number in self.rules.sets.items():
            of_kind = [position for position, case in enumerate(self.cases) if case.instruments == kind]
            self.share(of_kind, self.rules.sterilise_min, max(number, 1))

    def share(self, positions: Sequence[int], after_min: float, capacity: int) -> None:
        """Cases that use one of a number of equal things, each for its minutes and some more."""
        if len(positions) <= capacity:
            return
        intervals = []
        for position in positions:
            longest = max(ticks(hands.minutes) for hands in self.cases[position].hands) + ticks(after_min)
            size = self.model.new_int_var(0, longest, "")
            end = self.model.new_int_var(0, self.horizon + ticks(after_min), "")
            self.model.add(size == self.ends[position] - self.starts[position] + ticks(after_min))
            intervals.append(self.model.new_interval_var(self.starts[position], size, end, ""))
        self.model.add_cumulative(intervals, [1] * len(intervals), capacity)

    def route_tables(self) -> None:
        """One route a table, with the turnover on each arc and the price of look-alikes and a long last case."""
        weigh, turnover = self.rules.weights, ticks(self.rules.turnover_min)
        limit = long_from(self.cases, self.rules)
        for i, one in enumerate(self.cases):
            self.arcs[-1, i] = self.model.new_bool_var("")
            self.arcs[i, -1] = self.model.new_bool_var("")
            if one.minutes >= limit and weigh.long_last:
                self.cost.append(self.arcs[i, -1] * ticks(weigh.long_last))
            for j, other in enumerate(self.cases):
                pinned = one.starts_min is not None or other.starts_min is not None
                if i == j or (one.phase > other.phase and not pinned):
                    continue
                arc = self.arcs[i, j] = self.model.new_bool_var("")
                self.model.add(self.starts[j] >= self.ends[i] + turnover).only_enforce_if(arc)
                same_lens, same_side = likeness(one, other)
                price = ticks(weigh.same_lens) * same_lens + ticks(weigh.same_side) * same_side
                if price:
                    self.cost.append(arc * price)
        self.model.add_multiple_circuit([(i + 1, j + 1, arc) for (i, j), arc in self.arcs.items()])
        self.model.add(sum(self.arcs[-1, i] for i in range(len(self.cases))) <= self.rules.tables)

    def keep_parts_of_day(self) -> None:
        """Pinned cases may stand between others; those keep the parts of the day all the same."""
        if all(case.starts_min is None for case in self.cases):
            return
        levels = []
        for case in self.cases:
            pinned = case.starts_min is not None
            level = self.model.new_int_var(0 if pinned else int(case.phase), 2 if pinned else int(case.phase), "")
            levels.append(level)
            if pinned:
                moved = self.model.new_bool_var("")
                self.model.add(level == int(case.phase)).only_enforce_if(~moved)
                self.cost.append(moved * ticks(self.rules.weights.out_of_turn))
        for (i, j), arc in self.arcs.items():
            if i >= 0 and j >= 0:
                self.model.add(levels[i] <= levels[j]).only_enforce_if(arc)

    def keep_pinned_tables(self) -> None:
        """Names the tables only where a case is pinned to one; else they are alike."""
        if all(case.table is None for case in self.cases):
            return
        at = [[self.model.new_bool_var("") for _ in range(self.rules.tables)] for _ in self.cases]
        for position, case in enumerate(self.cases):
            self.model.add_exactly_one(at[position])
            if case.table is not None:
                self.model.add(at[position][case.table - 1] == 1)
        for (i, j), arc in self.arcs.items():
            if i >= 0 and j >= 0:
                for here, there in zip(at[i], at[j], strict=True):
                    self.model.add(here == there).only_enforce_if(arc)
        for table in range(self.rules.tables):
            firsts = []
            for position in range(len(self.cases)):
                both = self.model.new_bool_var("")
                self.model.add_bool_or([~self.arcs[-1, position], ~at[position][table], both])
                firsts.append(both)
            self.model.add_at_most_one(firsts)

    def hint(self, placings: Sequence[Placing]) -> None:
        """Starts the search from a list."""
        by_key = {placing.key: placing for placing in placings}
        for position, case in enumerate(self.cases):
            placing = by_key[case.key]
            self.model.add_hint(self.starts[position], ticks(placing.starts_min))
            for flag, hands in zip(self.chosen[position], case.hands, strict=True):
                self.model.add_hint(flag, hands == placing.hands)
        place = {case.key: position for position, case in enumerate(self.cases)}
        used: set[tuple[int, int]] = set()
        last: dict[int, int] = {}
        for placing in sorted(placings, key=lambda entry: entry.starts_min):
            here = place[placing.key]
            used.add((last.get(placing.table, -1), here))
            last[placing.table] = here
        used |= {(here, -1) for here in last.values()}
        for ends, arc in self.arcs.items():
            self.model.add_hint(arc, ends in used)

    def placings(self, solver: Any) -> tuple[Placing, ...]:
        """The solution with its exact minutes: in the solver's order, each as early as it can be."""
        table: dict[int, int] = {}
        following = {i: j for (i, j), arc in self.arcs.items() if i >= 0 and solver.value(arc)}
        firsts = [j for (i, j), arc in self.arcs.items() if i < 0 and solver.value(arc)]
        for number, here in self.numbered(firsts, following):
            while here >= 0:
                table[here] = number
                here = following[here]
        timetable = Timetable(self.rules)
        for here in sorted(range(len(self.cases)), key=lambda i: (solver.value(self.starts[i]), i)):
            case = self.cases[here]
            hands: Hands = next(
                hands for flag, hands in zip(self.chosen[here], case.hands, strict=True) if solver.value(flag)
            )
            spot = timetable.spot(case, hands, table[here])
            if spot is None:
                raise AssertionError("the solver's order breaks a rule")
            timetable.put(case, spot)
        return timetable.placings()

    def numbered(self, firsts: Sequence[int], following: dict[int, int]) -> list[tuple[int, int]]:
        """Each route's table and first case; a route that holds a pinned case takes its table."""
        wanted: dict[int, int] = {}
        for first in firsts:
            here = first
            while here >= 0:
                pinned = self.cases[here].table
                if pinned is not None:
                    wanted[first] = pinned - 1
                here = following[here]
        free = iter(number for number in range(self.rules.tables) if number not in wanted.values())
        return [(wanted[first] if first in wanted else next(free), first) for first in firsts]
