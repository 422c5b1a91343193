"""Measurements out of rows: wide ones of the register, long ones of the measurements sheet."""

from dataclasses import dataclass, field
from functools import cache

from ..eye.measurement import Measurement, Method, Quantity
from ..knowledge import load_published
from ..optics.side import Side
from .catalogue import column_by_heading
from .cells import parse_cell
from .columns import Column, Table
from .figures import CellError, Keratometry
from .findings import Findings
from .rows import Row

__all__ = ["Repeats", "measurement_of", "readings_of_row", "with_register"]

CORNEA = {"k1": Quantity.K1, "k2": Quantity.K2}
LENGTHS = {
    "axial_length": Quantity.AXIAL_LENGTH,
    "chamber_depth": Quantity.ANTERIOR_CHAMBER_DEPTH,
    "lens_thickness": Quantity.LENS_THICKNESS,
    "white_to_white": Quantity.WHITE_TO_WHITE,
}
READING_KEYS = frozenset((*CORNEA, *LENGTHS, "k1_axis", "k2_axis", "measured_on"))
MILLIMETRES_IN_A_METRE = 1000.0


@dataclass(slots=True)
class Repeats:
    """The repeat numbers that the readings of one person have taken."""

    taken: set[tuple[Side, Quantity, Method, int]] = field(default_factory=set)
    highest: dict[tuple[Side, Quantity, Method], int] = field(default_factory=dict)

    def free(self, wanted: int | None, side: Side, quantity: Quantity, method: Method) -> int:
        """The number the row asks for, or the next one when it asks for none or another row has it."""
        series = (side, quantity, method)
        number = wanted if wanted and (*series, wanted) not in self.taken else self.highest.get(series, 0) + 1
        self.taken.add((*series, number))
        self.highest[series] = max(number, self.highest.get(series, 0))
        return number


def power_at_convention(reading: Keratometry, index: float | None) -> float:
    """Corneal power at the index 1.3375 from a radius, or from a power at the unit's own index.

    Parameters
    ----------
    reading : Keratometry
        In millimetres or dioptres.
    index : float or None
        The unit's keratometer index; ``None`` for the convention.

    Returns
    -------
    float
        Power at the convention [D].

    Notes
    -----
    ``D = 1000 (n - 1) / r``; a power at another index is scaled by ``(1.3375 - 1) / (n - 1)``.
    """
    convention = convention_index()
    if reading.in_mm:
        return MILLIMETRES_IN_A_METRE * (convention - 1.0) / reading.value
    return reading.value if index is None else reading.value * (convention - 1.0) / (index - 1.0)


@cache
def convention_index() -> float:
    """The index to which every keratometry is brought."""
    return load_published().value("plausible.keratometer_index.convention")


def readings_of_row(row: Row, side: Side, index: float | None) -> tuple[Measurement, ...]:
    """The readings that stand in a register's own columns; one of each.

    Parameters
    ----------
    row : Row
        Of the register or the eyes sheet.
    side : Side
        Its eye.
    index : float or None
        The unit's keratometer index.

    Returns
    -------
    tuple of Measurement
    """
    if row.cells.keys().isdisjoint(READING_KEYS):
        return ()
    taken_on = row.take("measured_on")
    length_method = row.take("axial_length_method") or Method.UNKNOWN
    corneal_method = row.take("keratometry_method") or Method.UNKNOWN
    corneal_width_method = row.take("white_to_white_method") or Method.UNKNOWN
    found: list[Measurement] = []
    for key, quantity in LENGTHS.items():
        value = row.take(key)
        method = corneal_width_method if quantity is Quantity.WHITE_TO_WHITE else length_method
        if value is not None:
            found.append(Measurement(side, quantity, value, method, None, 1, taken_on, row.text(key)))
    for key, quantity in CORNEA.items():
        reading = row.take(key)
        axis = row.take(f"{key}_axis")
        if reading is not None:
            power = power_at_convention(reading, index)
            axis = axis if axis is not None else reading.axis_deg
            found.append(Measurement(side, quantity, power, corneal_method, axis, 1, taken_on, row.text(key)))
    return tuple(found)


def measurement_of(row: Row, side: Side, index: float | None, repeats: Repeats) -> Measurement | None:
    """The reading of one row of the measurements sheet, or ``None`` when it is set aside or says that there is none.

    Parameters
    ----------
    row : Row
        The row.
    side : Side
        Its eye.
    index : float or None
        The unit's keratometer index.
    repeats : Repeats
        The repeat numbers that the person's readings have taken; the row's own is added.

    Returns
    -------
    Measurement or None
    """
    quantity = row.take("quantity")
    if quantity is None:
        if not row.text("quantity"):
            row.set_aside("does not say what was measured", "AL, K1, K2, ACD, LT or WTW under Quantity")
        return None
    written = written_value(row)
    try:
        value = parse_cell(column_of(quantity), written)
    except CellError as error:
        row.set_aside(error.why, error.accepted, key="value")
        return None
    if value is None:
        if not row.text("value"):
            row.set_aside("has no value", "the reading, or delete the row")
        return None
    method = row.take("method") or Method.UNKNOWN
    axis = row.take("axis_deg")
    if isinstance(value, Keratometry):
        axis = axis if axis is not None else value.axis_deg
        value = power_at_convention(value, index)
    elif axis is not None:
        row.set_aside("belongs to K1 and K2 only", "an empty cell", key="axis_deg")
        axis = None
    reading = repeats.free(row.take("reading"), side, quantity, method)
    return Measurement(side, quantity, value, method, axis, reading, row.take("taken_on"), written)


def written_value(row: Row) -> str:
    """The reading with its unit behind it, as the sheet has it."""
    value, unit = row.text("value"), row.text("unit")
    return f"{value} {unit}" if unit and value and value[-1:].isdecimal() else value


@cache
def column_of(quantity: Quantity) -> Column:
    """The register's column that holds the same quantity, for its kind and limits."""
    key = next(key for key, known in (CORNEA | LENGTHS).items() if known is quantity)
    return next(column for column in column_by_heading(Table.REGISTER).values() if column.key == key)


def with_register(
    long: tuple[Measurement, ...], wide: tuple[Measurement, ...], row: Row, findings: Findings
) -> tuple[Measurement, ...]:
    """Both kinds of readings together, without counting one twice.

    Parameters
    ----------
    long : tuple of Measurement
        From the measurements sheet.
    wide : tuple of Measurement
        From the register's row.
    row : Row
        That row.
    findings : Findings
        Takes the register's figures that are not used.

    Returns
    -------
    tuple of Measurement
        A register's figure joins the others only where the measurements sheet has none of the same quantity by the same
        method (or where its method is unknown, none at all): else it is most likely their mean.
    """
    kept: list[Measurement] = []
    for figure in wide:
        same = [
            other.value
            for other in long
            if other.quantity is figure.quantity and (figure.method in {other.method, Method.UNKNOWN})
        ]
        if not same:
            kept.append(figure)
        elif min(same) <= figure.value <= max(same):
            findings.notes.append(
                f"{row.place()}: the {figure.quantity.value} {figure.as_written} was not counted again, since the "
                "measurements sheet has the readings behind it."
            )
        else:
            key = next(key for key, known in (CORNEA | LENGTHS).items() if known is figure.quantity)
            row.set_aside(f"lies outside the {len(same)} readings on the measurements sheet, which are used instead",
                          f"{min(same):.2f} to {max(same):.2f}, or correct the readings", key=key)  # fmt: skip
    return (*kept, *long)
