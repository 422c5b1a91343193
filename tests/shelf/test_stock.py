"""The shelf: what may be used on a day and what is said about each box."""

from datetime import date, timedelta

import pytest

from sideport.knowledge import Severity, load_published
from sideport.lens.model import LensModel, Placement
from sideport.shelf.box import Box
from sideport.shelf.stock import box_flags, lenses_on_shelf, usable

KNOWLEDGE = load_published()
DAY = date(2026, 12, 1)
RIGID = LensModel("Rigid A", 118.2, frozenset({Placement.BAG}), False, 6.0, 6.5, {})
PIECES = LensModel("Three-piece C", 118.7, frozenset({Placement.BAG, Placement.SULCUS}), True, 6.0, 3.2, {})
CHAMBER = LensModel("Chamber D", 115.0, frozenset({Placement.CHAMBER}), False, 5.5, 6.0, {})
MIXED = LensModel("Mixed E", 118.0, frozenset({Placement.BAG, Placement.CHAMBER}), False, 5.5, 6.0, {})
MODELS = {model.name: model for model in (RIGID, PIECES, CHAMBER, MIXED)}


def box(model="Rigid A", power=21.0, count=1, expires=DAY + timedelta(days=400), box_id="b1"):
    return Box(box_id, model, power, count, expires)


def codes(one):
    return [flag.code for flag in box_flags(box=one, day=DAY, models=MODELS, knowledge=KNOWLEDGE)]


def test_expired_and_empty_boxes_are_not_usable_and_the_last_day_still_is():
    kept = usable(
        [
            box(box_id="yesterday", expires=DAY - timedelta(days=1)),
            box(box_id="today", expires=DAY),
            box(box_id="empty", count=0),
            box(box_id="undated", expires=None),
            box(box_id="soon", expires=DAY + timedelta(days=9)),
        ],
        DAY,
    )
    assert [one.box_id for one in kept] == ["today", "soon", "undated"]


def test_the_order_of_usable_boxes_does_not_depend_on_the_order_given():
    boxes = [box(box_id=name, expires=DAY + timedelta(days=days)) for name, days in (("b", 5), ("a", 5), ("c", 1))]
    assert usable(boxes, DAY) == usable(boxes[::-1], DAY)


def test_each_model_and_power_is_one_lens_and_only_where_it_may_sit():
    boxes = [box(), box(box_id="b2"), box("Three-piece C", 20.0), box("Chamber D", 18.0), box("No Such", 20.0)]
    in_bag = lenses_on_shelf(boxes=boxes, models=MODELS, placement=Placement.BAG)
    in_sulcus = lenses_on_shelf(boxes=boxes, models=MODELS, placement=Placement.SULCUS)
    in_chamber = lenses_on_shelf(boxes=boxes, models=MODELS, placement=Placement.CHAMBER)
    assert [(in_bag.model(k).name, in_bag.power_d[k]) for k in range(2)] == [("Rigid A", 21.0), ("Three-piece C", 20.0)]
    assert [in_sulcus.model(k).name for k in range(len(in_sulcus.power_d))] == ["Three-piece C"]
    assert [in_chamber.model(k).name for k in range(len(in_chamber.power_d))] == ["Chamber D"]


def test_an_ordinary_box_has_no_flags():
    assert codes(box()) == []


@pytest.mark.parametrize(
    ("one", "code"),
    [
        (box(expires=DAY - timedelta(days=1)), "expired"),
        (box(expires=DAY + timedelta(days=30)), "expires-soon"),
        (box(expires=None), "no-expiry-date"),
        (box(model="No Such"), "unknown-model"),
        (box(power=80.0), "implausible-power"),
        (box(power=-21.0), "implausible-power"),
        (box(power=-2.0), "minus-power"),
        (box(count=0), "none-left"),
        (box(model="Mixed E"), "one-constant-two-places"),
    ],
)
def test_each_oddity_is_flagged_by_its_code(one, code):
    assert codes(one) == [code]


def test_an_expired_box_warns_with_its_date():
    (flag,) = box_flags(box=box(expires=date(2026, 11, 30)), day=DAY, models=MODELS, knowledge=KNOWLEDGE)
    assert flag.severity is Severity.WARN
    assert "2026-11-30" in flag.message
