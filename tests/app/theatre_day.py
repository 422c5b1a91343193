"""The sample day in theatre: a shelf on the record, and the taps of a team."""

import re
from dataclasses import replace
from datetime import date
from typing import Any
from uuid import uuid4

from django.http import HttpResponse
from django.urls import reverse

from sideport.app.people.roles import Role
from sideport.app.planning.models import StoredPlan
from sideport.app.record.services import append
from sideport.app.theatre.checklist import items_of
from sideport.day.plan import DayPlan
from sideport.lens.model import LensModel, Placement
from sideport.record.kinds import Kind
from sideport.record.stock_said import BoxReceived
from sideport.record.subject import SubjectKind, subject
from sideport.record.theatre_said import Pause
from sideport.shelf.box import Box

from .cast import UNIT, as_role
from .conftest import NOW

FAR = date(2051, 1, 31)
EYE = "QI-101-right"
WHO = "QI-101"


def boxes() -> tuple[Box, ...]:
    """The right box, and one for each way to be wrong."""
    return (
        Box("R-+21.0", "Rigid A", 21.0, 2, FAR, lot="LR21", serial="S21"),
        Box("T-+20.0", "Three-piece C", 20.0, 2, FAR, lot="LT20", serial="ST20"),
        Box("R-+22.5", "Rigid A", 22.5, 1, FAR, lot="LR22", serial="S225"),
        Box("B-+21.0", "Fold B", 21.0, 2, FAR, lot="LB21", serial="SB21"),
        Box("OLD", "Rigid A", 21.0, 2, date(2020, 1, 31), lot="LOLD", serial="SOLD"),
        Box("M1", "Rigid A", 20.0, 1, FAR, lot="LMANY"),
        Box("M2", "Rigid A", 21.0, 1, FAR, lot="LMANY"),
        Box("GONE", "Rigid A", 21.0, 0, FAR, lot="LGONE", serial="SGONE"),
    )


def models() -> tuple[LensModel, ...]:
    """Two for the bag alone, one for the sulcus too."""
    bag, both = frozenset({Placement.BAG}), frozenset({Placement.BAG, Placement.SULCUS})
    return (
        LensModel("Rigid A", 118.2, bag, False, 6.0, 6.0, {}),
        LensModel("Fold B", 118.7, bag, True, 6.0, 2.8, {}),
        LensModel("Three-piece C", 118.5, both, True, 6.0, 3.0, {}),
    )


def day_in_theatre(plan: DayPlan) -> DayPlan:
    """The sample day with box counts as the shelf of this module has them."""
    held = {box.box_id: box.count for box in boxes()}
    return replace(plan, shelf=tuple(replace(row, count=held.get(row.box_id, row.count)) for row in plan.shelf))


def receive_shelf() -> None:
    """Boxes and models on the record."""
    for box in boxes():
        append(kind=Kind.BOX_RECEIVED, subject=subject(SubjectKind.BOX, box.box_id), payload=BoxReceived(box),
               actor="Marl Quay", now=NOW, unit=UNIT)  # fmt: skip
    for model in models():
        append(kind=Kind.LENS_LISTED, subject=subject(SubjectKind.LENS, model.name), payload=model,
               actor="Wren Hollis", now=NOW, unit=UNIT)  # fmt: skip


class Team:
    """Somebody in theatre, tapping."""

    def __init__(self, stored: StoredPlan, role: Role = Role.NURSE, key: str = EYE) -> None:
        self.stored, self.key, self.browser = stored, key, as_role(role)

    def address(self, name: str) -> str:
        return reverse(f"theatre-{name}", args=[self.stored.pk, self.key])

    def see(self, name: str = "eye") -> str:
        return self.browser.get(self.address(name), follow=True).content.decode()

    def tap(self, name: str, follow: bool = True, **fields: Any) -> HttpResponse:
        sent = {"tap": str(uuid4()), **fields}
        return self.browser.post(self.address(name), sent, follow=follow)  # type: ignore[return-value]

    def pause(self, pause: Pause, **fields: Any) -> HttpResponse:
        answers = {f"item-{item.name}": "yes" for item in items_of(pause)}
        if pause is not Pause.SIGN_OUT:
            answers |= {"who": WHO, "side": "right"}
        if pause is Pause.SIGN_IN:
            answers |= {"technique": "manual small-incision", "operator": "Ines Calder", "supervisor": ""}
        return self.tap(pause.value, **(answers | fields))

    def begin(self) -> "Team":
        self.pause(Pause.SIGN_IN)
        self.pause(Pause.TIME_OUT)
        return self

    def scan(self, serial: str, place: str = "bag", **fields: Any) -> HttpResponse:
        return self.tap(place, code=f"(01)51022222233336(21){serial}", **fields)


def words(response: HttpResponse) -> str:
    """A page's text with single spaces."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode()))
