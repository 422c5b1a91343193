"""The shelf as the theatre asks for it: boxes on the record, or the plan's where the record has none."""

from collections.abc import Mapping
from dataclasses import dataclass

from ...day.plan import DayPlan
from ...lens.model import LensModel as LensFacts
from ...lens.model import Placement
from ...record.plain import read_plain
from ...shelf.box import Box
from ..record.models import Box as BoxRow
from ..record.models import LensModel
from .lens_check import places_in_plan

__all__ = ["TheatreShelf", "shelf_for"]


@dataclass(frozen=True, slots=True)
class TheatreShelf:
    """Boxes and lens models."""

    boxes: tuple[Box, ...]
    on_record: bool
    """False where the boxes are the plan's, so that no box of the record can be said to have lost a lens."""
    places: Mapping[str, frozenset[Placement]]

    def box(self, box_id: str) -> Box | None:
        """A box by its name."""
        return next((box for box in self.boxes if box.box_id == box_id), None)


def shelf_for(*, unit: str, plan: DayPlan) -> TheatreShelf:
    """Boxes and lens models of a unit for a day's plan."""
    rows = list(BoxRow.objects.filter(unit=unit).order_by("first"))
    boxes = tuple(box_of(row) for row in rows) or tuple(
        Box(row.box_id, row.model, row.power_d, row.count, row.expires, row.lot, row.serial, row.price, row.location)
        for row in plan.shelf
    )
    places = {model: frozenset(found) for model, found in places_in_plan(plan).items()}
    for listed in LensModel.objects.filter(unit=unit):
        places[listed.name] = read_plain(LensFacts, listed.facts).placements
    return TheatreShelf(boxes, bool(rows), places)


def box_of(row: BoxRow) -> Box:
    """A box of the record."""
    return Box(row.box_id, row.model, row.power_d, row.count, row.expires, row.lot, row.serial, row.price, row.location)
