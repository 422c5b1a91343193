"""What the shelf page shows: powers by model as a picture, then every box."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from ...day.plan import DayPlan, EyePlan, ShelfRow
from ...knowledge.advice import Flag, Severity
from ...lens.model import Placement
from ..planning.documents import plan_of
from ..planning.frames import Frame, frame_of
from ..planning.models import StoredPlan

__all__ = ["ShelfPage", "shelf_page"]

DRAWN = 12
"""Lenses drawn one by one in a cell; a cell with more draws these and says the rest in its number."""
PITCH = 12
"""Width of one drawn lens in the picture's own unit."""
WORST_FIRST = tuple(Severity)


@dataclass(frozen=True, slots=True)
class Cell:
    """The lenses of one model and power."""

    count: int
    given: int
    barred: int
    """Never given: past the expiry date, or a stop flag stands on their box."""
    drawn: tuple[tuple[int, str], ...]
    """Position and kind (``given``, ``free``, ``barred``) of each lens drawn."""
    width: int

    @property
    def free(self) -> int:
        """Lenses that nobody was given and that may be used."""
        return self.count - self.given - self.barred


@dataclass(frozen=True, slots=True)
class PowerRow:
    """One power across the models; a cell is ``None`` where the shelf holds nothing."""

    power_d: float
    cells: tuple[Cell | None, ...]


@dataclass(frozen=True, slots=True)
class Given:
    """An eye that was given a lens of a box, and where in the eye it is meant to rest."""

    eye: EyePlan
    placement: Placement


@dataclass(frozen=True, slots=True)
class BoxLine:
    """One box, with the eyes that were given its lenses."""

    anchor: str
    """Safe as an address on the page, whatever the box is called."""
    row: ShelfRow
    given: tuple[Given, ...]
    flags: tuple[Flag, ...]
    stands_by: int
    """Eyes for which a lens of the box stands by, promised to none."""


@dataclass(frozen=True, slots=True)
class ShelfPage:
    """The shelf."""

    frame: Frame
    currency: str
    count: int
    given: int
    barred: int
    models: tuple[str, ...]
    powers: tuple[PowerRow, ...]
    flagged: tuple[BoxLine, ...]
    boxes: tuple[BoxLine, ...]


def shelf_page(stored: StoredPlan) -> ShelfPage:
    """The shelf page of a stored plan."""
    plan = plan_of(stored)
    by_key = {eye.key: eye for eye in plan.eyes}
    lines = tuple(
        BoxLine(f"box-{at}", row, tuple(given_from(row, by_key)), worst_first(row.flags), standing_by(row, plan))
        for at, row in enumerate(sorted(plan.shelf, key=lambda row: (row.model, row.power_d, row.box_id)), start=1)
    )
    models = tuple(sorted({row.model for row in plan.shelf}))
    flagged = sorted((line for line in lines if line.flags), key=lambda line: WORST_FIRST.index(line.flags[0].severity))
    return ShelfPage(
        frame=frame_of(stored, "shelf"),
        currency=plan.currency,
        count=sum(row.count for row in plan.shelf),
        given=sum(row.given for row in plan.shelf),
        barred=sum(barred(row, plan.day) for row in plan.shelf),
        models=models,
        powers=tuple(power_rows(plan, models)),
        flagged=tuple(flagged),
        boxes=lines,
    )


def power_rows(plan: DayPlan, models: tuple[str, ...]) -> Iterable[PowerRow]:
    """One row a power that any model has, in order."""
    boxes: dict[tuple[float, str], list[ShelfRow]] = {}
    for row in plan.shelf:
        boxes.setdefault((row.power_d, row.model), []).append(row)
    for power_d in sorted({row.power_d for row in plan.shelf}):
        cells = (boxes.get((power_d, model)) for model in models)
        yield PowerRow(power_d, tuple(cell_of(found, plan.day) if found else None for found in cells))


def cell_of(rows: list[ShelfRow], day: date) -> Cell:
    """The boxes of one model and power as one cell: given lenses first, then free ones, then those barred."""
    count, given = sum(row.count for row in rows), sum(row.given for row in rows)
    kept_back = sum(barred(row, day) for row in rows)
    kinds = ["given"] * given + ["free"] * (count - given - kept_back) + ["barred"] * kept_back
    drawn = tuple((PITCH * place, kind) for place, kind in enumerate(kinds[:DRAWN]))
    return Cell(count, given, kept_back, drawn, PITCH * max(len(drawn), 1))


def given_from(row: ShelfRow, by_key: dict[str, EyePlan]) -> Iterable[Given]:
    """The eyes that were given lenses of a box, once for each lens."""
    for key in dict.fromkeys(row.given_to):
        eye = by_key[key]
        for lens in (eye.lens, eye.backup):
            if lens is not None and lens.box_id == row.box_id:
                yield Given(eye, lens.placement)


def standing_by(row: ShelfRow, plan: DayPlan) -> int:
    """Eyes on the list whose backup or chamber lens is shared and lies in a box."""
    return sum(
        any(lens is not None and lens.shared and lens.box_id == row.box_id for lens in (eye.backup, eye.chamber))
        for eye in plan.eyes
        if eye.slot
    )


def barred(row: ShelfRow, day: date) -> int:
    """Lenses of a box that may not be used: all that were not given, where it has expired or a stop flag stands."""
    expired = row.expires is not None and row.expires < day
    stopped = any(flag.severity is Severity.STOP for flag in row.flags)
    return row.count - row.given if expired or stopped else 0


def worst_first(flags: tuple[Flag, ...]) -> tuple[Flag, ...]:
    """Flags in the order of their urgency."""
    return tuple(sorted(flags, key=lambda flag: WORST_FIRST.index(flag.severity)))
