"""What pages look for in a full register is found in an index; ``bench/pages_bench.py`` measures what that is worth."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from sideport.app.home.pages import last_months
from sideport.app.patients.queries import search
from sideport.app.record.models import Operation, Person, Visit

from .cast import UNIT

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.skipif("connection.vendor != 'sqlite'", reason="PostgreSQL chooses by what the tables hold"),
]


def plan_of(sql: str) -> str:
    with connection.cursor() as cursor:
        cursor.execute(f"EXPLAIN QUERY PLAN {sql}")
        return "\n".join(str(row[3]) for row in cursor.fetchall())


@pytest.mark.parametrize("asked", ["tansy weir", "Q17", "015512345", "শিউলি"])
def test_a_search_reads_the_index_alone_and_in_order(asked: str) -> None:
    with CaptureQueriesContext(connection) as queries:
        search(unit=UNIT, asked=asked)
    plan = plan_of(queries.captured_queries[0]["sql"])
    assert "COVERING INDEX record_person_search" in plan
    assert "TEMP B-TREE" not in plan


@pytest.mark.parametrize(
    ("rows", "index"),
    [
        (lambda: Person.objects.filter(unit=UNIT, same_as="a").order_by("person_id"), "record_person_same"),
        (lambda: Visit.objects.filter(unit=UNIT, kind="recorded"), "record_visit_kind"),
    ],
)
def test_rows_are_found_by_their_index(rows: object, index: str) -> None:
    assert index in rows().explain()  # type: ignore[operator]


def test_months_are_counted_in_the_index_of_days() -> None:
    with CaptureQueriesContext(connection) as queries:
        last_months(Operation.objects.filter(unit=UNIT))
    assert "COVERING INDEX record_operation_day" in plan_of(queries.captured_queries[0]["sql"])
