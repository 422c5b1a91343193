"""The shelf page: powers by model, boxes, who was given what."""

import re
from dataclasses import replace
from datetime import date

import pytest
from django.test import Client
from django.urls import reverse

from sample_plan import sample_plan
from sideport.app.planning.models import StoredPlan
from sideport.app.planning.services import store_plan
from sideport.app.stock.pages import DRAWN, cell_of, shelf_page
from sideport.day.plan import DayPlan

from .conftest import NOW


@pytest.fixture
def page(client: Client, stored: StoredPlan) -> str:
    response = client.get(reverse("shelf", args=[stored.pk]))
    assert response.status_code == 200
    return response.content.decode()


def test_a_missing_plan_has_no_shelf(client: Client, stored: StoredPlan) -> None:
    assert client.get(reverse("shelf", args=[stored.pk + 1])).status_code == 404


def test_every_lens_is_counted_once(stored: StoredPlan, plan: DayPlan) -> None:
    page = shelf_page(stored)
    cells = [cell for row in page.powers for cell in row.cells if cell]
    assert sum(cell.count for cell in cells) == page.count == sum(row.count for row in plan.shelf)
    assert sum(cell.given for cell in cells) == page.given
    assert all(cell.given + cell.free + cell.barred == cell.count for cell in cells)


def test_powers_rise_and_every_row_has_a_cell_a_model(stored: StoredPlan) -> None:
    page = shelf_page(stored)
    powers = [row.power_d for row in page.powers]
    assert powers == sorted(set(powers))
    assert {len(row.cells) for row in page.powers} == {len(page.models)}


def test_an_expired_box_leads_the_page_and_is_never_free(page: str, stored: StoredPlan) -> None:
    look = page[page.index('id="look"') : page.index('id="powers"')]
    assert "Expired on 31 January 2031." in look
    assert shelf_page(stored).barred == 2


def test_every_link_on_the_page_has_its_place(page: str) -> None:
    for anchor in re.findall(r'href="#([^"]+)"', page):
        assert f'id="{anchor}"' in page, anchor


def test_a_box_names_the_eyes_and_the_places_it_serves(page: str, stored: StoredPlan) -> None:
    row = page[page.index('<td data-label="Box"><span>R--2.0</span>') :]
    row = row[: row.index("</tr>")]
    assert reverse("eye", args=[stored.pk, "QI-104-right"]) in row
    assert "RIGHT" in row
    assert "BAG" in row


def test_a_full_cell_draws_a_dozen_and_counts_all() -> None:
    cell = cell_of([replace(sample_plan().shelf[0], count=40, given=3)], date(2031, 3, 4))
    assert len(cell.drawn) == DRAWN
    assert [kind for _, kind in cell.drawn[:4]] == ["given", "given", "given", "free"]
    assert (cell.count, cell.free) == (40, 37)


@pytest.mark.parametrize(("expires", "free"), [(date(2031, 3, 3), 0), (date(2031, 3, 4), 2), (None, 2)])
def test_an_expired_lens_is_not_free_whatever_its_flags(expires: date | None, free: int) -> None:
    row = replace(sample_plan().shelf[0], count=2, given=0, expires=expires, flags=())
    assert cell_of([row], date(2031, 3, 4)).free == free


def test_a_box_that_stands_by_says_for_how_many_and_is_given_to_nobody(client: Client, plan: DayPlan, db: None) -> None:
    shared = [eye.backup for eye in plan.eyes if eye.backup and eye.backup.shared]
    assert shared[0].box_id
    boxes = tuple(replace(row, given=0, given_to=()) if row.box_id == shared[0].box_id else row for row in plan.shelf)
    page = shelf_page(store_plan(plan=replace(plan, shelf=boxes), now=NOW))
    line = next(line for line in page.boxes if line.row.box_id == shared[0].box_id)
    assert (line.stands_by, line.given) == (1, ())
    assert all(line.stands_by == 0 for line in page.boxes if line.row.model == "Rigid A")
