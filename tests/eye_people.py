"""Invented people for the eye room's tests."""

from collections.abc import Iterable

from sideport.eye.measurement import Measurement, Method, Quantity
from sideport.eye.person import EyeRecord, Person, Sex
from sideport.optics.side import Side

RIGHT, LEFT = Side.RIGHT, Side.LEFT


def lengths(side: Side, values: Iterable[float], method: Method = Method.CONTACT_ULTRASOUND) -> list[Measurement]:
    """Repeats of axial length."""
    return [
        Measurement(side=side, quantity=Quantity.AXIAL_LENGTH, value=value, method=method, reading=number)
        for number, value in enumerate(values, start=1)
    ]


def keratometry(
    side: Side,
    k1: float | None,
    k2: float | None,
    axis: float | None = 90.0,
    method: Method = Method.MANUAL_KERATOMETER,
    reading: int = 1,
) -> list[Measurement]:
    """One pair of meridians; ``axis`` is that of K1."""
    found = []
    for quantity, value, turned in ((Quantity.K1, k1, 0.0), (Quantity.K2, k2, 90.0)):
        if value is not None:
            along = None if axis is None else (axis + turned) % 180.0
            found.append(
                Measurement(side=side, quantity=quantity, value=value, method=method, axis_deg=along, reading=reading)
            )
    return found


def person(
    right: Iterable[Measurement] = (),
    left: Iterable[Measurement] = (),
    *,
    listed: tuple[Side, ...] = (RIGHT,),
    sex: Sex | None = None,
    age_years: float | None = None,
    refraction: dict[Side, float] | None = None,
    implanted: dict[Side, tuple[float, float | None]] | None = None,
) -> Person:
    """A person of Quill Island; ``implanted`` tells power and A-constant."""
    told, lenses = refraction or {}, implanted or {}

    def record(side: Side, measurements: Iterable[Measurement]) -> EyeRecord:
        power, constant = lenses.get(side, (None, None))
        return EyeRecord(
            side=side,
            listed=side in listed,
            measurements=tuple(measurements),
            refraction_d=told.get(side),
            implanted_power_d=power,
            implanted_a_constant=constant,
        )

    return Person(
        person_id="Q1",
        name="Mira of Quill Island",
        eyes=(record(RIGHT, right), record(LEFT, left)),
        sex=sex,
        age_years=age_years,
    )
