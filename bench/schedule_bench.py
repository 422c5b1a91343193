"""How good the ordered list is, how long it takes, and what a pin and two thousand simulated days cost."""

import time
from dataclasses import replace

import numpy as np

from bench.big_day import big_day
from sideport.day import plan_day
from sideport.day.pins import Pin
from sideport.day.play import turns
from sideport.day.rules import Case, Phase, Rules, weights
from sideport.day.schedule import Effort, schedule
from sideport.day.simulate import simulate_day
from sideport.day.variation import CaseTime, variation
from sideport.day.verify import broken_rules
from sideport.knowledge import load_published
from sideport.lens.model import Placement
from sideport.optics.side import Side

SECONDS = {Effort.GREEDY: 1.0, Effort.QUICK: 1.0, Effort.FULL: 10.0}
"""The longest that each may take on two free cores."""
EYES, SURGEONS, TABLES = 40, 3, 4


def forty_eyes(seed: int) -> tuple[Case, ...]:
    """Forty eyes of three surgeons with usual spreads; invented."""
    draw = np.random.default_rng(seed)
    return tuple(
        Case(
            key=f"{number:02}",
            phase=Phase(int(draw.choice(3, p=[0.15, 0.8, 0.05]))),
            minutes=float(draw.lognormal(np.log(10), 0.25)),
            operator=f"S{number % SURGEONS}",
            supervisor=None,
            side=list(Side)[int(draw.integers(2))],
            lens=("Rigid A", float(draw.integers(38, 48) / 2), Placement.BAG),
        )
        for number in range(EYES)
    )


def run() -> None:
    """Prints the table; a gap is the most that the list can lie above the best one, by a proven bound."""
    knowledge = load_published()
    print(f"\nThe list: {EYES} eyes, {SURGEONS} surgeons, {TABLES} tables")
    print(f"  {'turnover':>8} {'day':>4} {'effort':>8} {'seconds':>8} {'cost min':>9} {'bound min':>9} {'gap':>7}")
    for turnover in (4.0, 8.0):
        for seed in (0, 3):
            cases, rules = forty_eyes(seed), Rules(tables=TABLES, turnover_min=turnover, weights=weights(knowledge))
            for effort in Effort:
                begun = time.perf_counter()
                found = schedule(cases, rules, generator=np.random.default_rng(0), effort=effort)
                spent = time.perf_counter() - begun
                late = "" if spent <= SECONDS[effort] else f"  over {SECONDS[effort]:g} s"
                broken = "  BROKEN RULE" if broken_rules(cases, found.placings, rules) else ""
                print(
                    f"  {turnover:8.0f} {seed:4} {effort.value:>8} {spent:8.2f} {found.score.total:9.2f} "
                    f"{found.bound:9.2f} {100 * found.gap:6.2f}%{late}{broken}"
                )
    played(forty_eyes(0), Rules(tables=TABLES, turnover_min=8.0))
    around_a_pin()


def played(cases: tuple[Case, ...], rules: Rules) -> None:
    """Two thousand days, and which case to move first."""
    planned = schedule(cases, rules, generator=np.random.default_rng(0))
    times = {case.key: CaseTime(case.minutes, 0.4 * case.minutes, 0.02) for case in cases}
    order = turns(cases, planned.placings)
    begun = time.perf_counter()
    simulate_day(
        order, [times[turn.key] for turn in order], rules=rules, varied=variation(load_published()),
        day_min=planned.score.finish_min, generator=np.random.default_rng(0),
    )  # fmt: skip
    print(f"  2,000 simulated days with each case left out in turn: {time.perf_counter() - begun:.2f} s")


def around_a_pin() -> None:
    """A whole plan of sixty eyes with one eye pinned, its cost included."""
    request, knowledge = big_day(eyes=60, boxes=400), load_published()
    key = next(eye.key for eye in plan_day(request, knowledge, seed=0, inputs_sha256="").eyes if eye.slot)
    for what, pin in (("table", Pin(key, table=2)), ("operator", Pin(key, operator="Second"))):
        begun = time.perf_counter()
        plan_day(replace(request, pins=(pin,)), knowledge, seed=0, inputs_sha256="")
        print(f"  60 eyes planned anew around a pinned {what}: {time.perf_counter() - begun:.2f} s (bound 2 s)")
