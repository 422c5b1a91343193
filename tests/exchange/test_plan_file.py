"""The plan goes into JSON and comes back the same."""

import json
import math
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sample_plan import sample_plan
from sideport.errors import ImpossibleInputError, PlanFormatError
from sideport.exchange import PLAN_FORMAT_VERSION, plan_from_json, plan_schema, plan_to_json, read_plan, write_plan
from sideport.exchange.reference import plan_format_markdown

PLAN = replace(sample_plan(), format_version=PLAN_FORMAT_VERSION)


def test_a_plan_comes_back_equal_and_stays_so(tmp_path: Path) -> None:
    write_plan(PLAN, tmp_path / "plan.json")
    again = read_plan(tmp_path / "plan.json")
    assert again == PLAN
    assert repr(plan_from_json(plan_to_json(again))) == repr(again)
    assert [path.name for path in tmp_path.iterdir()] == ["plan.json"]


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_finite_number_comes_back_to_the_last_digit(value: float) -> None:
    again = plan_from_json(plan_to_json(replace(PLAN, overtime_min=value)))
    assert again.overtime_min == value
    assert math.copysign(1, again.overtime_min) == math.copysign(1, value)


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_a_number_that_is_not_finite_is_refused_with_its_place(value: float) -> None:
    with pytest.raises(ImpossibleInputError, match=r"plan\.expected_tears"):
        plan_to_json(replace(PLAN, expected_tears=value))


@pytest.mark.parametrize("text", ["", "{", "[]", "null", '"x"', '{"eyes": []}', "\x00", "[" * 100_000])
def test_what_is_no_plan_is_said_to_be_none(text: str) -> None:
    with pytest.raises(PlanFormatError, match="not a plan"):
        plan_from_json(text)


@pytest.mark.parametrize("version", [0, 2, 99, "1", True, None])
def test_another_version_says_what_to_do(version: object) -> None:
    document = json.loads(plan_to_json(PLAN)) | {"format_version": version}
    with pytest.raises(PlanFormatError, match="plan the day again"):
        plan_from_json(json.dumps(document))
    with pytest.raises(PlanFormatError):
        plan_to_json(replace(PLAN, format_version=99))


def test_a_field_that_was_changed_is_named() -> None:
    document = json.loads(plan_to_json(PLAN))
    document["eyes"][0]["side"] = "both"
    with pytest.raises(PlanFormatError, match=r"eyes\.0\.side"):
        plan_from_json(json.dumps(document))


@given(st.binary(max_size=60))
def test_any_bytes_are_a_plan_or_a_format_error(content: bytes) -> None:
    with pytest.raises(PlanFormatError):
        plan_from_json(content)


def test_the_schema_and_the_page_name_every_field_of_a_written_plan() -> None:
    """Neither the schema nor the documentation lacks a key that a real file has."""
    schema = plan_schema()
    assert set(json.loads(plan_to_json(PLAN))) == set(schema["properties"])
    page = plan_format_markdown()

    def keys(value: object) -> set[str]:
        if isinstance(value, dict):
            return set(value) | {key for inner in value.values() for key in keys(inner)}
        return {key for inner in value for key in keys(inner)} if isinstance(value, list) else set()

    assert all(f"`{key}`" in page for key in keys(json.loads(plan_to_json(PLAN))))
