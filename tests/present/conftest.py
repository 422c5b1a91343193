"""The sample plan, typeset once."""

import pytest

from sample_plan import sample_plan
from sideport.day.plan import DayPlan
from sideport.present.sheets import day_pdf, eye_pdf


@pytest.fixture(scope="session")
def plan() -> DayPlan:
    return sample_plan()


@pytest.fixture(scope="session")
def day_sheet(plan: DayPlan) -> bytes:
    return day_pdf(plan)


@pytest.fixture(scope="session")
def eye_sheets(plan: DayPlan) -> bytes:
    return eye_pdf(plan)
