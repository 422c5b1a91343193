"""A large invented day; a seed makes it the same every time."""

from datetime import date

import numpy as np

from sideport.day.settings import DayRequest, DaySettings
from sideport.eye.measurement import Measurement, Method, Quantity
from sideport.eye.person import Cataract, EyeRecord, Person, Pupil, Sex
from sideport.lens.model import LensModel, Placement
from sideport.optics.side import Side
from sideport.risk.team import Grade, Surgeon
from sideport.shelf.box import Box
from sideport.wound.technique import Technique

__all__ = ["big_day"]

LENSES = (
    LensModel("Rigid A", 118.2, frozenset({Placement.BAG}), False, 5.5, 5.5, {}, 120),
    LensModel("Fold B", 118.6, frozenset({Placement.BAG}), True, 6.0, 2.8, {}),
    LensModel("Three-piece C", 118.7, frozenset({Placement.BAG, Placement.SULCUS}), True, 6.0, 3.2, {}),
    LensModel("Chamber D", 115.0, frozenset({Placement.CHAMBER}), False, 5.5, 5.5, {}),
)


UNLIKE_MM, UNLIKE_D = 0.3, 0.4
"""Standard deviation of the difference between fellow eyes."""


def readings(generator: np.random.Generator, side: Side, length: float, steep: float) -> tuple[Measurement, ...]:
    """Contact ultrasound and manual keratometry of one eye."""
    rows = [
        Measurement(
            side,
            Quantity.AXIAL_LENGTH,
            round(length + generator.normal(0, 0.1), 2),
            Method.CONTACT_ULTRASOUND,
            reading=number,
        )
        for number in range(1, 6)
    ]
    rows.append(Measurement(side, Quantity.K1, round(steep - 0.75, 2), Method.MANUAL_KERATOMETER, axis_deg=180))
    rows.append(Measurement(side, Quantity.K2, round(steep, 2), Method.MANUAL_KERATOMETER, axis_deg=90))
    return tuple(rows)


def big_day(*, eyes: int, boxes: int, seed: int = 0) -> DayRequest:
    """A day with one listed eye a person and a shelf spread over the usual powers."""
    generator = np.random.default_rng(seed)
    kinds = list(Cataract)[:-1]
    people = []
    for number in range(eyes):
        side = list(Side)[number % 2]
        length, steep = generator.normal(23.2, 1.0), generator.normal(44.8, 1.5)
        record = EyeRecord(
            side=side,
            listed=True,
            cataract=kinds[int(generator.integers(len(kinds)))],
            pupil=list(Pupil)[int(generator.integers(3))],
            measurements=readings(generator, side, length, steep),
        )
        other = readings(
            generator, side.other, length + generator.normal(0, UNLIKE_MM), steep + generator.normal(0, UNLIKE_D)
        )
        fellow = EyeRecord(side=side.other, listed=False, measurements=other)
        people.append(
            Person(
                f"B{number:03}",
                f"Person {number}",
                (record, fellow),
                float(generator.integers(45, 90)),
                list(Sex)[number % 2],
            )
        )
    models = [LENSES[0], LENSES[0], LENSES[1], LENSES[2]]
    shelf = tuple(
        Box(
            box_id=f"X{number:04}",
            model=models[number % 4].name,
            power_d=float(np.clip(round(generator.normal(21.5, 2.2) * 2) / 2, 10, 30)),
            count=1,
            expires=date(2027 + number % 3, 1 + number % 12, 28),
            price=5.0 + 20.0 * (number % 4 == 2),
        )
        for number in range(boxes)
    )
    both = frozenset({Technique.MSICS, Technique.PHACO, Technique.ECCE})
    team = (
        Surgeon("Senior", Grade.SENIOR, both, supervises=True),
        Surgeon("Second", Grade.EXPERIENCED, both),
        Surgeon("Learner", Grade.TRAINEE, frozenset({Technique.MSICS}), cases_wanted=3),
    )
    return DayRequest(DaySettings(unit="Bench", day=date(2026, 12, 1), tables=3), tuple(people), LENSES, shelf, team)
