"""The slips that a reading may be the result of, what is known of them (``blunders.toml``), and a suspicion of one."""

from dataclasses import dataclass
from enum import Enum

import numpy as np

from ..knowledge import Knowledge
from ..optics.arrays import FloatArray
from ..optics.side import Side
from .coordinates import COORDINATES, Coordinate
from .measurement import Method, Quantity

__all__ = ["SLIPS", "DoubtedReading", "Possibility", "Slip", "SlipModel", "Suspicion", "load_slip_model"]


class Slip(Enum):
    """How a reading may have gone wrong."""

    SWAPPED_DIGITS = "swapped digits"
    WRONG_UNIT = "another unit or a lost decimal point"
    SHORT_CONTACT = "a contact reading far too short"
    SWAPPED_EYES = "the two eyes exchanged"
    WRONG_PATIENT = "another patient's readings"
    UNEXPLAINED = "an error without a name"


SLIPS: tuple[Slip, ...] = tuple(Slip)


@dataclass(frozen=True, slots=True)
class DoubtedReading:
    """One reading that the rest contradicts."""

    side: Side
    quantity: Quantity
    method: Method
    repeat: int
    value: float
    """As taken."""
    mended: float | None
    """What it would be if the slip is the one named; ``None`` where the slip does not tell."""


@dataclass(frozen=True, slots=True)
class Possibility:
    """What one eye would be if the readings are sound, and what if a slip befell them."""

    side: Side
    slip: Slip
    probability: float
    """Of the slip."""
    as_read_mm: float
    otherwise_mm: float
    as_read_lens_d: float
    """Thin-lens power for emmetropia; NaN where no lens could do it."""
    otherwise_lens_d: float

    @property
    def lens_move_d(self) -> float:
        """How far the lens would be off [D]; infinite where no lens could be named."""
        moved = abs(self.otherwise_lens_d - self.as_read_lens_d)
        return float("inf") if np.isnan(moved) else moved


@dataclass(frozen=True, slots=True)
class Suspicion:
    """A slip that the readings of one person point to."""

    person: int
    """Index into the people."""
    slip: Slip
    readings: tuple[DoubtedReading, ...]
    probability: float
    """That these readings are the result of a slip, of whatever kind."""
    probability_any: float
    """That something in the person's readings is: these readings or what the rival explanation doubts."""
    log_bayes_factor: float
    """Natural logarithm: how much better this slip explains the readings than none."""
    rival: str
    """Another explanation nearly as good, in words; empty where there is none."""
    rival_sides: tuple[Side, ...]
    lens_move_d: float
    """By how much the lens for emmetropia changes when the readings are left out [D]; the larger of the two eyes."""
    set_apart: bool
    """True when the belief is made without the readings; otherwise it is a mixture of with and without."""
    possibilities: tuple[Possibility, ...] = ()
    """The eyes that would get another lens: by the likeliest slip, then by exchanged eyes, where the belief holds both.
    """

    @property
    def sides(self) -> tuple[Side, ...]:
        """The eyes the doubted readings are of."""
        return tuple(side for side in Side if any(reading.side is side for reading in self.readings))


@dataclass(frozen=True, slots=True, eq=False)
class SlipModel:
    """Chances, shifts, tails and limits."""

    log_chance: FloatArray
    """By slip, in the order of ``SLIPS``."""
    set_log: float
    """Added to the logarithm of ``UNEXPLAINED`` for a set of repeats."""
    short_mm: float
    short_variance: float
    unexplained_variance: FloatArray
    """(7,) by quantity; NaN for J0 and J45."""
    tail_log_share: FloatArray
    """(c,), the first for a person within the Gaussian prior."""
    tail_scale: FloatArray
    """(c,) times as wide; the first 1."""
    tail_direction: FloatArray
    """(c, 14), the first zeros."""
    flag: float
    likely: float
    set_apart: float
    rival: float
    exchange: float
    odd: float
    told_d: float
    lens_move_d: float
    behind_chamber_mm: float
    corneal_ratio: float


def load_slip_model(knowledge: Knowledge) -> SlipModel:
    """Gathers the numbers of ``blunders.toml``.

    Raises
    ------
    KnowledgeError
        When one is missing.
    """
    chance = [knowledge.value(f"blunders.chance.{slip.name.lower()}") for slip in SLIPS]
    short = knowledge.number("blunders.shift.short_contact")
    spread = np.full(len(COORDINATES), np.nan)
    for coordinate in Coordinate:
        key = f"blunders.shift.unexplained_{coordinate.name.lower()}"
        if key in knowledge.numbers:
            spread[coordinate] = knowledge.number(key).spread or 0.0
    share, scale, direction = tails(knowledge)
    decision = {key: number.value for key, number in knowledge.table("blunders.decision").items()}
    return SlipModel(
        log_chance=np.log(chance),
        set_log=float(np.log(knowledge.value("blunders.chance.unexplained_set")) - np.log(chance[-1])),
        short_mm=-short.value,
        short_variance=(short.spread or 0.0) ** 2,
        unexplained_variance=spread**2,
        tail_log_share=np.log(share),
        tail_scale=scale,
        tail_direction=direction,
        flag=decision["flag"],
        likely=decision["likely"],
        set_apart=decision["set_apart"],
        rival=decision["rival"],
        exchange=decision["exchange"],
        odd=decision["odd"],
        told_d=decision["told"],
        lens_move_d=decision["lens_move"],
        behind_chamber_mm=knowledge.value("blunders.lens.behind_chamber"),
        corneal_ratio=knowledge.value("blunders.lens.corneal_ratio"),
    )


def tails(knowledge: Knowledge) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Share, scale and direction of each way in which sound eyes are odder than the prior; the first is none."""
    shares, scales, directions = [0.0], [1.0], [np.zeros(2 * len(COORDINATES))]
    for coordinate in Coordinate:
        stem = f"blunders.tail.{coordinate.name.lower()}"
        for kind, sign in (("both", 1.0), ("difference", -1.0)):
            if f"{stem}.{kind}_share" in knowledge.numbers:
                along = np.zeros(2 * len(COORDINATES))
                along[coordinate], along[len(COORDINATES) + coordinate] = 1.0, sign
                shares.append(knowledge.value(f"{stem}.{kind}_share"))
                scales.append(knowledge.value(f"{stem}.{kind}_scale"))
                directions.append(along)
    shares[0] = 1.0 - sum(shares)
    return np.array(shares), np.array(scales), np.array(directions)
