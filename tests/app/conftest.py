"""The stored sample day, for tests of the pages."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from django.contrib.auth.hashers import Argon2PasswordHasher
from django.test import Client

from sample_plan import sample_plan
from sideport.app.people.roles import Role
from sideport.app.planning.documents import parsed
from sideport.app.planning.models import StoredPlan
from sideport.app.planning.services import store_plan
from sideport.day.plan import DayPlan
from sideport.knowledge import Basis, Flag, Severity

from .cast import as_role
from .emptying import journal_may_be_emptied

NOW = datetime(2031, 3, 3, 20, 30, tzinfo=UTC)


@pytest.fixture(scope="session", autouse=True)
def _emptying() -> Iterator[None]:
    """Tests that commit may empty the database after themselves."""
    with journal_may_be_emptied():
        yield


@pytest.fixture(autouse=True)
def _fresh_memory() -> None:
    """No test finds a plan that another has parsed."""
    parsed.cache_clear()


@pytest.fixture(autouse=True)
def _quick_hashes(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same kind of hash as in the unit, at the least cost, so that a test of passwords takes no second."""
    for name, least in (("time_cost", 1), ("memory_cost", 8), ("parallelism", 1)):
        monkeypatch.setattr(Argon2PasswordHasher, name, least)


@pytest.fixture
def plan() -> DayPlan:
    """The sample day with an expired box on its shelf and a hostile note."""
    plain = sample_plan()
    flag = Flag("box-expired", Severity.STOP, "Expired on 31 January 2031.", "Take it off the shelf.", "practice",
                Basis.COMMON_PRACTICE)  # fmt: skip
    expired = replace(plain.shelf[0], box_id="OLD 7/#1", count=2, given=0, given_to=(), flags=(flag,))
    noted = replace(plain.eyes[0], note="<script>alert('note')</script>")
    return replace(plain, shelf=(*plain.shelf, expired), eyes=(noted, *plain.eyes[1:]))


@pytest.fixture
def stored(db: None, plan: DayPlan) -> StoredPlan:
    """The sample day in the database."""
    return store_plan(plan=plan, now=NOW)


@pytest.fixture
def client(db: None) -> Client:
    """A browser in which the lead surgeon of the sample unit has signed in; see ``cast`` for everybody else."""
    return as_role(Role.LEAD_SURGEON)
