"""The part of an eye's page where another cut is tried: by a plain form, in its limits, storing nothing."""

import re
from dataclasses import replace

import pytest
from django.test import Client
from django.urls import reverse

from sideport.app.people.models import ReadLog
from sideport.app.planning.cut_part import cut_rows, trying
from sideport.app.planning.models import StoredPlan
from sideport.app.planning.services import store_plan
from sideport.day.plan import DayPlan, EyePlan
from sideport.day.try_cut import CutAsked, try_cut
from sideport.knowledge import load_published
from sideport.present.words import cut_words
from sideport.wound.plan import Site, WoundShape

from .conftest import NOW

EYE = "QI-101-right"
ASKED = {"site": "temporal", "length": "7.2", "distance": "2", "shape": "straight"}


def page_of(client: Client, stored: StoredPlan, **asked: str) -> str:
    """The whole page, as a browser without scripts gets it."""
    response = client.get(reverse("eye", args=[stored.pk, EYE]), asked)
    assert response.status_code == 200
    return response.content.decode()


def part_of(client: Client, stored: StoredPlan, **asked: str) -> str:
    """The answer alone, as the script gets it."""
    response = client.get(reverse("eye-cut", args=[stored.pk, EYE]), asked)
    assert response.status_code == 200
    return response.content.decode()


def eye_in(plan: DayPlan) -> EyePlan:
    return next(eye for eye in plan.eyes if eye.key == EYE)


def test_without_a_question_the_planned_cut_stands_in_the_form(client: Client, stored: StoredPlan) -> None:
    page = page_of(client, stored)
    form = page[page.index('<form class="knobs"') : page.index("</form>", page.index('<form class="knobs"'))]
    assert '<option value="superior" selected>' in form
    assert re.search(r'name="length" value="6.5"', form)
    assert '<option value="frown" selected>' in form
    assert "This is the planned cut." in page
    assert "Not the planned cut" not in page


def test_the_plain_form_brings_the_same_answer_as_the_script(client: Client, stored: StoredPlan) -> None:
    page, part = page_of(client, stored, **ASKED), part_of(client, stored, **ASKED)
    assert part.strip() in page
    assert "Not the planned cut." in part
    assert "<html" not in part


def test_the_answer_is_that_of_the_core_and_the_plan_stays_beside_it(
    client: Client, stored: StoredPlan, plan: DayPlan
) -> None:
    eye = eye_in(plan)
    assert eye.wound
    cut = CutAsked(Site.TEMPORAL, 7.2, 2.0, WoundShape.STRAIGHT)
    tried = try_cut(eye=eye, cut=cut, knowledge=load_published())
    part = part_of(client, stored, **ASKED)
    assert cut_words(tried.chosen) in part.replace("&#x27;", "'")
    for row in cut_rows(eye.wound.chosen, tried.chosen):
        cells = part[part.index(f'<th scope="row">{row.label}</th>') :]
        cells = cells[: cells.index("</tr>")].replace("&#x27;", "'")
        assert row.value in cells
        assert str(row.other) in cells


def test_both_drawings_stand_on_the_page_under_names_of_their_own(client: Client, stored: StoredPlan) -> None:
    page = page_of(client, stored, **ASKED)
    assert f'id="cut-{EYE}' in page
    assert f'id="try-{EYE}' in page
    found = re.findall(r' id="([^"]+)"', page)
    assert len(found) == len(set(found))
    assert "Cut: straight, 7.20\u00a0mm long, temporal at 9 o" in page


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"length": "62"}, "Length: Give 4.00 to 9.00\u00a0mm."),
        ({"length": "nan"}, "Length: Give 4.00 to 9.00\u00a0mm."),
        ({"length": ""}, "Length: Give 4.00 to 9.00\u00a0mm."),
        ({"distance": "-1"}, "Behind the limbus: Give 0.00 to 3.00\u00a0mm."),
        ({"site": "inferior"}, "Site: Choose one of the sites."),
        ({"shape": "<script>"}, "Shape: Choose one of the shapes."),
    ],
)
def test_what_cannot_be_is_refused_and_the_planned_cut_stays(
    client: Client, stored: StoredPlan, wrong: dict[str, str], said: str
) -> None:
    for answer in (part_of(client, stored, **{**ASKED, **wrong}), page_of(client, stored, **{**ASKED, **wrong})):
        assert said in answer
        assert "<script>" not in answer.replace('<script src="', "")
    part = part_of(client, stored, **{**ASKED, **wrong})
    assert "What if" not in part
    assert "<svg" not in part
    assert "Planned" in part


def test_a_missing_field_is_asked_for(client: Client, stored: StoredPlan) -> None:
    assert "Site:" in part_of(client, stored, length="7")


def test_an_unusual_site_and_the_own_eyes_left_out_are_said(client: Client, stored: StoredPlan) -> None:
    part = part_of(client, stored, **{**ASKED, "site": "superonasal"})
    assert "nose and brow hinder" in part
    assert "12 own eyes that the planned cut counts are left out here" in part


def test_trying_stores_nothing_and_is_one_look_however_often_it_moves(client: Client, stored: StoredPlan) -> None:
    before = StoredPlan.objects.get(pk=stored.pk).document
    for length in ("6", "6.5", "7", "7.5"):
        part_of(client, stored, **{**ASKED, "length": length})
    assert StoredPlan.objects.get(pk=stored.pk).document == before
    assert StoredPlan.objects.count() == 1
    assert [(row.subject, row.view) for row in ReadLog.objects.all()] == [("QI-101", "eye-cut")]
    page_of(client, stored)
    part_of(client, stored, **ASKED)
    assert ReadLog.objects.count() == 3


def test_only_reading_is_allowed(client: Client, stored: StoredPlan) -> None:
    assert client.post(reverse("eye-cut", args=[stored.pk, EYE]), ASKED).status_code == 405


@pytest.mark.parametrize("key", ["QI-108-left", "nobody"])
def test_an_eye_without_a_cut_or_of_another_plan_has_no_answer(client: Client, stored: StoredPlan, key: str) -> None:
    assert client.get(reverse("eye-cut", args=[stored.pk, key]), ASKED).status_code == 404


@pytest.mark.django_db
def test_a_plan_from_before_has_the_page_without_the_part(client: Client, plan: DayPlan) -> None:
    bare = replace(plan, eyes=tuple(replace(eye, cut_grounds=None) for eye in plan.eyes))
    stored = store_plan(plan=bare, now=NOW)
    page = page_of(client, stored)
    assert 'id="cut"' in page
    assert 'id="try"' not in page
    assert "wound.js" not in page


def test_an_answer_from_other_knowledge_than_the_plans_says_so(plan: DayPlan) -> None:
    version = load_published().version
    same, other = (trying(eye=eye_in(plan), data={}, knowledge_version=told) for told in (version, "another"))
    assert same is not None
    assert other is not None
    assert (same.renewed, other.renewed) == ("", version)


def test_rows_leave_out_what_neither_cut_has_and_mark_what_differs(plan: DayPlan) -> None:
    wound = eye_in(plan).wound
    assert wound
    assert wound.second
    rows = {row.label: row for row in cut_rows(wound.chosen, wound.second)}
    assert "Along the cut" not in rows
    assert rows["1.00\u00a0D or less"].differs
    assert not rows["Where"].differs
    assert all(row.other is None for row in cut_rows(wound.chosen))
