"""axe-core (its WCAG 2.2 A and AA rules) finds no serious violation on any page that answers to GET."""

from typing import TYPE_CHECKING

import pytest
from axe_playwright_python.sync_playwright import Axe
from pytest_django.live_server_helper import LiveServer

from sideport.app.people.roles import Role
from sideport.app.planning.models import StoredPlan
from sideport.app.planning.services import store_plan
from sideport.day.plan import DayPlan

from .cast import person, session_of
from .conftest import NOW
from .test_access import ANYONE, EXPECTED, LETTERS, address_of

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

RULES = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}}
NOT_PAGES = {"eye-cut", "day-sheet", "eyes-sheet", "document", "document-names", "brought-csv", "slip"}
"""Addresses that answer with a file, or with a part of a page."""
PAGES = [name for name, row in EXPECTED.items() if row.method == "get" and name not in NOT_PAGES]


@pytest.fixture
def shown(db: None, transactional_db: None, plan: DayPlan) -> StoredPlan:
    return store_plan(plan=plan, now=NOW)


def reader_of(name: str) -> Role | None:
    """A role that the page opens for; nobody where it opens for anyone."""
    who = EXPECTED[name].who
    return None if who == ANYONE else Role.LEAD_SURGEON if "L" in who else LETTERS[who[0]]


def test_no_page_has_a_serious_violation(chromium: "Browser", live_server: LiveServer, shown: StoredPlan) -> None:
    axe, found = Axe(), []
    for name in PAGES:
        context = chromium.new_context(viewport={"width": 800, "height": 1000}, bypass_csp=True)
        address, role = address_of(name, shown), reader_of(name)
        if role is not None:
            context.add_cookies([{"name": "sessionid", "value": session_of(person(role)), "url": "http://localhost"}])
        page = context.new_page()
        page.goto(live_server.url + address)
        found += [
            f"{name}: {violation['id']} at {violation['nodes'][0]['html'][:120]}"
            for violation in axe.run(page, options=RULES).response["violations"]
            if violation["impact"] in {"serious", "critical"}
        ]
        context.close()
    assert not found, "\n".join(found)
