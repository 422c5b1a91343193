"""The list: no hard rule broken on any day, as good as brute force on small days, near the bound on big ones."""

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sideport.day.decode import Decoder
from sideport.day.order import arrange_by_rules
from sideport.day.rules import Case, Hands, Phase, Placing, Rules, Supervision, weights
from sideport.day.schedule import Effort, schedule
from sideport.day.score import lower_bound, score
from sideport.day.solver import solve
from sideport.day.verify import broken_rules
from sideport.errors import ImpossibleInputError
from sideport.knowledge import load_published
from sideport.lens.model import Placement
from sideport.optics.side import Side

WEIGHTS = weights(load_published())
LENSES = st.sampled_from([None, ("Rigid A", 21.0, Placement.BAG), ("Fold B", 21.5, Placement.BAG)])
MINUTES = st.integers(2, 240).map(lambda quarter: quarter / 4)
HANDS = st.builds(
    Hands,
    operator=st.sampled_from("ABC"),
    supervisor=st.sampled_from([None, "S", "Z"]),
    minutes=MINUTES,
    cost=st.integers(0, 20).map(float),
    supervision=st.sampled_from(Supervision),
)


def generator(seed: int = 0) -> np.random.Generator:
    return np.random.default_rng(seed)


def case(key: str, minutes: float = 10, operator: str = "A", supervisor: str | None = None, **other: object) -> Case:
    defaults = {"phase": Phase.ORDINARY, "side": Side.RIGHT, "lens": None}
    return Case(key=key, minutes=minutes, operator=operator, supervisor=supervisor, **{**defaults, **other})  # type: ignore[arg-type]


@st.composite
def days(draw: st.DrawFn, pins: bool = False, most: int = 14) -> tuple[tuple[Case, ...], Rules]:
    """A list and its rules, with every kind of rule in play."""
    rules = Rules(
        tables=draw(st.integers(1, 4)),
        turnover_min=draw(st.integers(0, 40)) / 2,
        sets=draw(st.dictionaries(st.sampled_from(["tunnel", "phaco"]), st.integers(1, 4))),
        sterilise_min=draw(st.integers(0, 60)) / 2,
        watched_at_once=draw(st.integers(1, 2)),
        weights=WEIGHTS,
    )
    cases = []
    for number in range(draw(st.integers(1, most))):
        pinned = pins and draw(st.integers(0, 4)) == 0
        cases.append(
            Case(
                key=f"{number:02}",
                phase=draw(st.sampled_from(Phase)),
                minutes=draw(MINUTES),
                operator=draw(st.sampled_from("ABC")),
                supervisor=draw(st.sampled_from([None, None, "S", "Z"])),
                side=draw(st.sampled_from(Side)),
                lens=draw(LENSES),
                supervision=draw(st.sampled_from(Supervision)),
                instruments=draw(st.sampled_from(["", "tunnel", "phaco"])),
                ready_min=draw(st.sampled_from([0.0, 0.0, 15.0])),
                table=draw(st.integers(1, rules.tables)) if pins and draw(st.integers(0, 4)) == 0 else None,
                starts_min=draw(st.integers(0, 40)) * 5.0 if pinned else None,
                others=tuple(draw(st.lists(HANDS, max_size=2))),
            )
        )
    return tuple(cases), rules


@settings(max_examples=500, deadline=None)
@given(days(), st.sampled_from([Effort.GREEDY, Effort.QUICK]), st.integers(0, 3))
def test_five_hundred_random_days_break_no_hard_rule(
    day: tuple[tuple[Case, ...], Rules], effort: Effort, seed: int
) -> None:
    cases, rules = day
    found = schedule(cases, rules, generator=generator(seed), effort=effort)
    assert broken_rules(cases, found.placings, rules) == ()
    assert found.bound <= found.score.total + 1e-9
    assert found.score == score(cases, found.placings, rules)


@settings(max_examples=60, deadline=None)
@given(days(pins=True))
def test_only_a_pin_breaks_a_rule_and_the_score_counts_it(day: tuple[tuple[Case, ...], Rules]) -> None:
    cases, rules = day
    found = schedule(cases, rules, generator=generator())
    broken = broken_rules(cases, found.placings, rules)
    assert all(rule.by_pin for rule in broken)
    late = sum(rule.amount_min for rule in broken if rule.rule == "pinned-time" and rule.keys[0] in pinned_keys(cases))
    assert found.score.pin_late_min == pytest.approx(late)
    assert found.score.out_of_turn == sum(rule.rule == "part-of-day" for rule in broken)


def pinned_keys(cases: tuple[Case, ...]) -> set[str]:
    return {case.key for case in cases if case.starts_min is not None}


@settings(max_examples=30, deadline=None)
@given(days(pins=True, most=7))
def test_the_solver_breaks_no_rule_and_its_bound_is_below_every_list(day: tuple[tuple[Case, ...], Rules]) -> None:
    pytest.importorskip("ortools")
    cases, rules = day
    first = arrange_by_rules(cases, rules)
    solved = solve(cases, rules, hint=first, work=0.2)
    assert solved is not None
    assert all(rule.by_pin for rule in broken_rules(cases, solved.placings, rules))
    assert solved.bound <= score(cases, solved.placings, rules).total + 1e-6
    assert solved.bound <= score(cases, first, rules).total + 1e-6


@settings(max_examples=25, deadline=None)
@given(days(most=6))
def test_a_small_day_is_as_good_as_every_order_tried(day: tuple[tuple[Case, ...], Rules]) -> None:
    """Brute force over all orders of up to six cases."""
    cases, rules = day
    decoder = Decoder(cases, rules)
    best = min(decoder.cost(order) for order in permutations(range(len(cases))))
    found = schedule(cases, rules, generator=generator())
    assert found.score.total <= best + 1e-6
    assert lower_bound(cases, rules) <= best + 1e-9


@settings(max_examples=100, deadline=None)
@given(days())
def test_the_fast_cost_is_the_score_of_the_list(day: tuple[tuple[Case, ...], Rules]) -> None:
    cases, rules = day
    order = sorted(range(len(cases)), key=lambda number: cases[number].phase)
    decoder = Decoder(cases, rules)
    placings = decoder.placings(order)
    assert broken_rules(cases, placings, rules) == ()
    assert decoder.cost(order) == pytest.approx(score(cases, placings, rules).total)


def forty_eyes(seed: int) -> tuple[Case, ...]:
    """Forty eyes of three surgeons with usual spreads; invented."""
    draw = np.random.default_rng(seed)
    return tuple(
        case(
            f"{number:02}",
            float(draw.lognormal(np.log(10), 0.25)),
            f"S{number % 3}",
            phase=Phase(int(draw.choice(3, p=[0.15, 0.8, 0.05]))),
            side=list(Side)[int(draw.integers(2))],
            lens=("Rigid A", float(draw.integers(38, 48) / 2), Placement.BAG),
        )
        for number in range(40)
    )


def test_forty_eyes_come_within_one_percent_of_what_is_proven() -> None:
    """40 eyes, 3 surgeons, 4 tables; the bound is proven, so the true distance from the best list is smaller still."""
    cases, rules = forty_eyes(3), Rules(tables=4, turnover_min=4.0, weights=WEIGHTS)
    found = schedule(cases, rules, generator=generator(), effort=Effort.FULL)
    assert broken_rules(cases, found.placings, rules) == ()
    assert found.gap <= 0.01


def test_equal_days_get_equal_lists() -> None:
    cases, rules = forty_eyes(1), Rules(tables=3, turnover_min=6.0, weights=WEIGHTS)
    one, other = (schedule(cases, rules, generator=generator(5)) for _ in range(2))
    assert one == other


def test_the_solver_gives_the_same_list_twice() -> None:
    pytest.importorskip("ortools")
    cases, rules = forty_eyes(1)[:12], Rules(tables=2, turnover_min=6.0, weights=WEIGHTS)
    first = arrange_by_rules(cases, rules)
    one, other = (solve(cases, rules, hint=first, work=0.2) for _ in range(2))
    assert one == other


def test_free_hands_relieve_the_busy_surgeon() -> None:
    """Eight equal cases of one surgeon; a second who may do them halves the day."""
    alone = tuple(case(str(number)) for number in range(8))
    shared = tuple(replace(one, others=(Hands("B", None, 10.0, 0.5),)) for one in alone)
    rules = Rules(tables=2, turnover_min=0.0)
    ends = [schedule(cases, rules, generator=generator()).score.finish_min for cases in (alone, shared)]
    assert ends == [80.0, 40.0]


def test_a_supervisor_in_theatre_may_watch_two_where_the_unit_allows_it() -> None:
    cases = tuple(
        case(name, operator=name, supervisor="S", supervision=Supervision.IN_THEATRE) for name in ("T1", "T2")
    )
    one, two = (
        schedule(cases, Rules(tables=2, turnover_min=5.0, watched_at_once=watched), generator=generator())
        for watched in (1, 2)
    )
    assert (one.score.finish_min, two.score.finish_min) == (20.0, 10.0)


def test_a_novices_supervisor_watches_nobody_else() -> None:
    cases = (
        case("N", operator="N", supervisor="S"),
        case("T", operator="T", supervisor="S", supervision=Supervision.IN_THEATRE),
    )
    rules = Rules(tables=2, turnover_min=5.0, watched_at_once=2)
    assert schedule(cases, rules, generator=generator()).score.finish_min == 20.0


def test_one_set_of_instruments_paces_the_day() -> None:
    """Closed form: n cases of m minutes on one set with a cycle of c end after n m + (n - 1) c."""
    cases = tuple(case(str(number), 10, operator=str(number), instruments="tunnel") for number in range(5))
    rules = Rules(tables=5, turnover_min=0.0, sets={"tunnel": 1}, sterilise_min=20.0)
    found = schedule(cases, rules, generator=generator())
    assert found.score.finish_min == 5 * 10 + 4 * 20 == found.bound


def test_the_first_cut_waits_for_the_block() -> None:
    found = schedule((case("a", ready_min=12.0),), Rules(tables=1, turnover_min=0.0), generator=generator())
    assert found.placings[0].starts_min == 12.0


BREACHES = {
    "table-twice": ({}, {"table": 1, "starts_min": 12.0, "ends_min": 22.0}),
    "person-twice": ({"operator": "A"}, {"starts_min": 5.0, "ends_min": 15.0, "hands": Hands("A", None, 10.0)}),
    "minutes": ({}, {"ends_min": 34.0}),
    "hands": ({}, {"hands": Hands("Stranger", None, 10.0)}),
    "table": ({"table": 1}, {}),
    "block-not-taken": ({"ready_min": 60.0}, {}),
    "part-of-day": ({"phase": Phase.EARLY}, {"table": 1}),
    "sets-short": ({"instruments": "tunnel"}, {"starts_min": 24.0, "ends_min": 34.0}),
}


@pytest.mark.parametrize("rule", BREACHES)
def test_the_verifier_sees_each_breach(rule: str) -> None:
    changes, moved = BREACHES[rule]
    first = case("1", instruments="tunnel")
    second = replace(case("2", operator="B"), **changes)  # type: ignore[arg-type]
    right = (
        Placing("1", 1, 1, 0.0, 10.0, first.hands[0]),
        Placing("2", 2, 2, 25.0, 35.0, Hands("B", None, 10.0)),
    )
    rules = Rules(tables=2, turnover_min=5.0, sets={"tunnel": 1}, sterilise_min=15.0)
    wrong = (right[0], replace(right[1], **moved))  # type: ignore[arg-type]
    assert broken_rules((first, case("2", operator="B", instruments="tunnel")), right, rules) == ()
    assert rule in {broken.rule for broken in broken_rules((first, second), wrong, rules)}


def test_a_lost_case_is_a_breach() -> None:
    rules = Rules(tables=1, turnover_min=5.0)
    assert broken_rules((case("1"),), (), rules)[0].rule == "every-case-once"


@pytest.mark.parametrize(
    ("change", "words"),
    [({"table": 3}, "pin it to one of 1 to 2"), ({"minutes": 0.0}, "give a positive number"),
     ({"supervisor": "A"}, "name somebody else"), ({"starts_min": -5.0}, "pin it to a later time")],
)  # fmt: skip
def test_a_case_that_cannot_be_meant_is_refused(change: dict[str, object], words: str) -> None:
    wrong = replace(case("1"), **change)  # type: ignore[arg-type]
    with pytest.raises(ImpossibleInputError, match=words):
        schedule((wrong,), Rules(tables=2, turnover_min=5.0), generator=generator())
