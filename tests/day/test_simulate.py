"""The simulated day against closed forms of queueing, a discrete-event library, and the published pace."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from sideport.day.play import Turn, play, turns
from sideport.day.rules import Case, Phase, Rules, Supervision
from sideport.day.schedule import Effort, schedule
from sideport.day.simulate import simulate_day
from sideport.day.variation import CaseTime, Variation, case_time, draw_days, lognormal, variation
from sideport.errors import ImpossibleInputError
from sideport.knowledge import load_published
from sideport.optics.side import Side
from sideport.risk.team import Grade, Surgeon
from sideport.wound.technique import Technique

KNOWLEDGE = load_published()
CALM = Variation(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)


def generator(seed: int = 0) -> np.random.Generator:
    return np.random.default_rng(seed)


def queue(service: np.ndarray, arrivals: np.ndarray) -> np.ndarray:
    """Waits of customers of one server: one table, one operator, no turnover."""
    order = [Turn(str(number), 1, "A") for number in range(service.shape[1])]
    played = play(
        order, minutes=service, turnover=np.zeros_like(service), late=arrivals, rules=Rules(tables=1, turnover_min=0.0)
    )
    return played.starts - arrivals


def test_one_server_with_random_arrivals_waits_as_m_m_1() -> None:
    """Mean wait in the queue of M/M/1: rho / (mu - lambda), for lambda 0.5 and mu 1."""
    draw = generator()
    arrivals = np.cumsum(draw.exponential(2.0, (400, 3000)), axis=1)
    waits = queue(draw.exponential(1.0, (400, 3000)), arrivals)
    assert waits[:, 500:].mean() == pytest.approx(0.5 / (1.0 - 0.5), rel=0.02)


def test_lognormal_operations_wait_as_pollaczek_and_khinchine_say() -> None:
    """Mean wait of M/G/1: lambda E[S^2] / (2 (1 - rho)), for lognormal service of mean 8.8 and SD 3.4, rho 0.6."""
    draw, mean, spread, load = generator(1), 8.8, 3.4, 0.6
    days, customers = 400, 3000
    arrivals = np.cumsum(draw.exponential(mean / load, (days, customers)), axis=1)
    service = lognormal(mean=np.full(customers, mean), spread=np.full(customers, spread), days=days, generator=draw)
    expected = (load / mean) * (mean**2 + spread**2) / (2 * (1 - load))
    assert queue(service, arrivals)[:, 500:].mean() == pytest.approx(expected, rel=0.02)


@pytest.mark.parametrize(
    ("minutes", "turnover", "per_hour"), [(6.0, 4.0, 10.0), (9.0, 8.0, 60 / 9), (3.75, 3.5, 16.0), (4.0, 8.0, 10.0)]
)
def test_a_day_without_chance_keeps_the_two_table_pace(minutes: float, turnover: float, per_hour: float) -> None:
    """60 / max(t, (t + T) / 2) an hour; 16 at 3.75 minutes is the published pace of a high-volume unit."""
    order = [Turn(str(number), 1 + number % 2, "A") for number in range(201)]
    times = [CaseTime(minutes, 0.0, 0.0)] * len(order)
    rules = Rules(tables=2, turnover_min=turnover)
    found = simulate_day(order, times, rules=rules, varied=CALM, day_min=1e9, generator=generator(), days=2)
    assert found.bands[0][1] == pytest.approx(minutes + 200 * 60 / per_hour, rel=0.01)


def cases(count: int) -> tuple[Case, ...]:
    """A list with learners, short sets and three surgeons; invented."""
    draw = generator(7)
    found = []
    for number in range(count):
        taught = number % 5 == 0
        found.append(
            Case(
                key=f"{number:02}", phase=Phase.ORDINARY, minutes=float(draw.uniform(6, 20)),
                operator="T" if taught else f"S{number % 3}", supervisor="S0" if taught else None,
                side=Side.RIGHT, lens=None, supervision=Supervision.IN_THEATRE, instruments="tunnel",
                ready_min=10.0,
            )
        )  # fmt: skip
    return tuple(found)


def test_every_case_starts_and_ends_as_in_a_discrete_event_library() -> None:
    """SimPy 4.1: each case a process that queues for table, people and set in the order of the list, same draws."""
    simpy = pytest.importorskip("simpy")
    listed = cases(24)
    rules = Rules(tables=3, turnover_min=6.0, sets={"tunnel": 4}, sterilise_min=15.0)
    planned = schedule(listed, rules, generator=generator(), effort=Effort.GREEDY)
    order = turns(listed, planned.placings)
    times = [CaseTime(case.minutes, 0.4 * case.minutes, 0.05) for case in listed]
    draws = draw_days(times, turnover_min=6.0, varied=variation(KNOWLEDGE), days=20, generator=generator(3))
    played = play(order, minutes=draws.minutes, turnover=draws.turnover, late=draws.late, rules=rules)
    for day in range(20):
        starts, ends = events(simpy, order, draws.minutes[day], draws.turnover[day], draws.late[day], rules)
        np.testing.assert_allclose(played.starts[day], starts, atol=1e-9)
        np.testing.assert_allclose(played.ends[day], ends, atol=1e-9)


def events(
    simpy: Any, order: tuple[Turn, ...], minutes: np.ndarray, turnover: np.ndarray, late: np.ndarray, rules: Rules
) -> tuple[list[float], list[float]]:
    """One day as processes and resources; requests queue in the order of the list."""
    world = simpy.Environment()
    tables = {turn.table: simpy.Resource(world) for turn in order}
    people = {name: simpy.Resource(world) for turn in order for name in (turn.operator, turn.supervisor) if name}
    sets = simpy.Resource(world, capacity=rules.sets["tunnel"])
    used: dict[int, float] = {}
    starts, ends = [0.0] * len(order), [0.0] * len(order)

    def operate(place: int, turn: Turn) -> Any:
        resources = [tables[turn.table], sets, people[turn.operator]]
        if turn.supervisor:
            resources.append(people[turn.supervisor])
        requests = [resource.request() for resource in resources]
        yield world.all_of(requests)
        earliest = turn.not_before_min + late[place]
        if turn.table in used:
            earliest = max(earliest, used[turn.table] + turnover[place])
        yield world.timeout(max(0.0, earliest - world.now))
        starts[place] = world.now
        yield world.timeout(minutes[place])
        ends[place] = used[turn.table] = world.now
        for resource, request in zip(resources, requests, strict=True):
            if resource is not sets:
                resource.release(request)
        yield world.timeout(rules.sterilise_min)
        sets.release(requests[1])

    for place, turn in enumerate(order):
        world.process(operate(place, turn))
    world.run()
    return starts, ends


def test_without_chance_the_played_list_is_the_planned_list() -> None:
    listed = cases(30)
    rules = Rules(tables=3, turnover_min=6.0, sets={"tunnel": 4}, sterilise_min=15.0)
    planned = schedule(listed, rules, generator=generator()).placings
    by_key = {case.key: case for case in listed}
    order = turns(listed, planned)
    minutes = np.array([[by_key[turn.key].minutes for turn in order]])
    played = play(order, minutes=minutes, turnover=np.full_like(minutes, 6.0), late=np.zeros_like(minutes), rules=rules)
    np.testing.assert_allclose(played.starts[0], [placing.starts_min for placing in planned])


def test_two_learners_share_a_supervisor_only_where_the_unit_allows_it() -> None:
    order = [Turn("1", 1, "T1", "S", 1), Turn("2", 2, "T2", "S", 1), Turn("3", 3, "S")]
    ten, zero = np.full((1, 3), 10.0), np.zeros((1, 3))
    for watched, expected in ((1, [0, 10, 20]), (2, [0, 0, 10])):
        rules = Rules(tables=3, turnover_min=0.0, watched_at_once=watched)
        assert list(play(order, minutes=ten, turnover=zero, late=zero, rules=rules).starts[0]) == expected


def test_drawn_durations_have_the_published_mean_and_spread() -> None:
    """8.8 (SD 3.4) min: venkatesh2010, manual small-incision arm."""
    draws = lognormal(mean=np.array([8.8]), spread=np.array([3.4]), days=400_000, generator=generator())
    assert draws.mean() == pytest.approx(8.8, rel=0.005)
    assert draws.std() == pytest.approx(3.4, rel=0.02)


def test_a_torn_case_lasts_as_published() -> None:
    """45 (SD 23) min with a tear against 19 (10) without: uktheatre9552."""
    varied = variation(KNOWLEDGE)
    draws = draw_days([CaseTime(19.0, 10.0, 1.0)], turnover_min=0.0, varied=varied, days=400_000, generator=generator())
    assert draws.minutes.mean() == pytest.approx(45.0, rel=0.005)
    assert draws.minutes.std() == pytest.approx(23.0, rel=0.03)


def test_operation_and_turnaround_together_vary_as_published() -> None:
    """19.97 (SD 8.77) min with turnaround, 10.3 (4.11) without: roberts2018."""
    varied = replace(variation(KNOWLEDGE), interruption=0.0)
    times = [CaseTime(10.3, 4.11, 0.0)]
    draws = draw_days(times, turnover_min=19.97 - 10.3, varied=varied, days=400_000, generator=generator())
    whole = draws.minutes + draws.turnover
    assert whole.mean() == pytest.approx(19.97, rel=0.005)
    assert whole.std() == pytest.approx(8.77, rel=0.02)


def test_own_minutes_keep_the_published_share_of_spread() -> None:
    own = Surgeon("A", Grade.SENIOR, frozenset({Technique.MSICS}), minutes_msics=12.0)
    time = case_time(technique=Technique.MSICS, surgeon=own, tear_probability=0.02, knowledge=KNOWLEDGE)
    assert time == CaseTime(12.0, pytest.approx(12.0 * 3.4 / 8.8), 0.02)


def test_bands_widen_and_the_chance_of_overtime_is_the_share_past_the_end() -> None:
    """One case: the bands are quantiles of its lognormal, exp(mu + z s)."""
    order, times = [Turn("1", 1, "A")], [CaseTime(20.0, 10.0, 0.0)]
    rules = Rules(tables=1, turnover_min=0.0)
    found = simulate_day(order, times, rules=rules, varied=CALM, day_min=20.0, generator=generator(), days=200_000)
    variance = math.log(1 + 0.25)
    middle = math.log(20.0) - variance / 2
    for (share, minutes), z in zip(found.bands, (0.0, 0.841621, 1.644854), strict=True):
        assert minutes == pytest.approx(math.exp(middle + z * math.sqrt(variance)), rel=0.01), share
    past = 0.5 * math.erfc(math.sqrt(variance) / 2 / math.sqrt(2))
    assert found.overtime_chance == pytest.approx(past, abs=0.005)


def test_the_case_to_move_first_is_the_long_one_on_the_busy_table() -> None:
    order = [Turn("a", 1, "A"), Turn("b", 2, "B"), Turn("long", 1, "A"), Turn("c", 1, "A")]
    times = [CaseTime(10.0, 3.0, 0.0), CaseTime(10.0, 3.0, 0.0), CaseTime(40.0, 12.0, 0.0), CaseTime(10.0, 3.0, 0.0)]
    found = simulate_day(
        order, times, rules=Rules(tables=2, turnover_min=5.0), varied=CALM, day_min=60.0, generator=generator()
    )
    assert found.move_first is not None
    assert found.move_first.key == "long"
    assert found.move_first.overtime_chance < 0.01 < found.overtime_chance


def test_equal_generators_give_equal_days() -> None:
    order = [Turn(str(number), 1, "A") for number in range(5)]
    times = [CaseTime(10.0, 4.0, 0.1)] * 5
    one, other = (
        simulate_day(
            order, times, rules=Rules(tables=1, turnover_min=5.0), varied=variation(KNOWLEDGE), day_min=80.0,
            generator=generator(4),
        )
        for _ in range(2)
    )  # fmt: skip
    assert one == other


def test_arrays_that_do_not_fit_the_list_are_refused() -> None:
    with pytest.raises(ImpossibleInputError, match="days by cases"):
        play([Turn("1", 1, "A")], minutes=np.ones((2, 3)), turnover=np.ones((2, 3)), late=np.ones((2, 3)),
             rules=Rules(tables=1, turnover_min=0.0))  # fmt: skip
