"""The day played many times: when it ends, how likely it runs over, and which case to move first."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.random import Generator

from ..optics.arrays import FloatArray
from .play import Turn, play
from .rules import Rules
from .variation import CaseTime, Draws, Variation, draw_days

__all__ = ["DAYS", "SHARES", "MoveFirst", "SimulatedDay", "simulate_day"]

DAYS = 2000
"""Days drawn for a plan."""
SHARES = (0.5, 0.8, 0.95)
"""Shares of the days by whose end the list is over."""


@dataclass(frozen=True, slots=True)
class MoveFirst:
    """The case whose absence helps most."""

    key: str
    overtime_chance: float
    """Chance of overtime without it."""


@dataclass(frozen=True, slots=True)
class SimulatedDay:
    """What many plays of a list say of its end."""

    days: int
    bands: tuple[tuple[float, float], ...]
    """Share of the days, and minutes after the planned start by which the list was over in that share."""
    overtime_chance: float
    """Share of the days that ran past the wished end."""
    move_first: MoveFirst | None
    """``None`` where no case helps, or nothing runs over."""


def simulate_day(
    order: Sequence[Turn],
    times: Sequence[CaseTime],
    *,
    rules: Rules,
    varied: Variation,
    day_min: float,
    generator: Generator,
    days: int = DAYS,
) -> SimulatedDay:
    """Plays a list many times.

    Parameters
    ----------
    order : sequence of Turn, length n
        In the order of the list.
    times : sequence of CaseTime, length n
        In the same order.
    rules : Rules
    varied : Variation
    day_min : float
        From the planned start to the wished end [min].
    generator : numpy.random.Generator
        Equal generators give equal results.
    days : int
        At least 1.

    Returns
    -------
    SimulatedDay

    Notes
    -----
    Each case is left out in turn of the same drawn days, the others keeping table and order, so the differences are
    not blurred by new draws. The case to move first lowers the chance of overtime most; among equals it saves the most
    minutes of overtime, then comes last on the list.
    """
    if not order:
        return SimulatedDay(days, tuple((share, 0.0) for share in SHARES), 0.0, None)
    draws = draw_days(times, turnover_min=rules.turnover_min, varied=varied, days=days, generator=generator)
    finish = finishes(order, draws, rules)
    bands = tuple((share, float(np.quantile(finish, share))) for share in SHARES)
    chance = float(np.mean(finish > day_min))
    return SimulatedDay(days, bands, chance, move_first(order, draws, rules, finish, day_min) if chance else None)


def finishes(order: Sequence[Turn], draws: Draws, rules: Rules) -> FloatArray:
    """End of each day, (days,)."""
    return play(order, minutes=draws.minutes, turnover=draws.turnover, late=draws.late, rules=rules).finish


def move_first(
    order: Sequence[Turn], draws: Draws, rules: Rules, finish: FloatArray, day_min: float
) -> MoveFirst | None:
    """The case whose absence helps most."""
    found = []
    for place, turn in enumerate(order):
        others = [*order[:place], *order[place + 1 :]]
        without = finishes(others, draws.without(place), rules)
        found.append((float(np.mean(without > day_min)), over(without, day_min), -place, turn.key))
    chance, minutes, _, key = min(found)
    return MoveFirst(key, chance) if minutes < over(finish, day_min) else None


def over(finish: FloatArray, day_min: float) -> float:
    """Mean minutes of overtime."""
    return float(np.mean(np.maximum(0.0, finish - day_min)))
