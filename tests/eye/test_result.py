"""The class of a result does not depend on the notation, and a cause is suggested in the order that is documented."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sideport.eye.result import (
    Cause,
    Complication,
    ResultClass,
    presenting,
    result_class,
    suggested_cause,
)  # fmt: skip
from sideport.knowledge import load_published
from sideport.optics.acuity import Acuity, AcuityKind, parse_acuity

KNOWLEDGE = load_published()
GOOD, BORDERLINE, POOR = ResultClass


def class_of(text: str) -> ResultClass | None:
    acuity = parse_acuity(text)
    assert acuity is not None, text
    return result_class(acuity=acuity, knowledge=KNOWLEDGE)


@pytest.mark.parametrize(
    "text", ["6/18", "3/10", "0.3", "20/70", "0.33", "logMAR 0.5", "6/18 P", "6/6", "20/60", "1.0"]
)
def test_the_line_6_18_and_better_is_good_in_every_notation(text: str) -> None:
    """The categories of the classification of diseases, 10th revision, H54: 6/18 = 3/10 = 20/70."""
    assert class_of(text) is GOOD


@pytest.mark.parametrize("text", ["6/24", "6/60", "1/10", "0.1", "20/200", "3/30", "logMAR 1.0", "20/80"])
def test_worse_than_6_18_down_to_6_60_is_borderline(text: str) -> None:
    """The same table: 6/60 = 1/10 = 20/200."""
    assert class_of(text) is BORDERLINE


@pytest.mark.parametrize("text", ["5/60", "3/60", "1/60", "0.05", "CF 6m", "HM", "PL", "NPL"])
def test_worse_than_6_60_and_below_the_chart_is_poor(text: str) -> None:
    assert class_of(text) is POOR


def test_what_was_not_tested_has_no_class() -> None:
    assert result_class(acuity=None, knowledge=KNOWLEDGE) is None


@given(st.floats(-0.3, 2.0), st.floats(-0.3, 2.0))
def test_a_worse_acuity_is_never_in_a_better_class(one: float, other: float) -> None:
    better, worse = (Acuity("", AcuityKind.LETTERS, logmar) for logmar in sorted((one, other)))
    classes = [result_class(acuity=each, knowledge=KNOWLEDGE) for each in (better, worse)]
    order = list(ResultClass)
    assert order.index(classes[0]) <= order.index(classes[1])  # type: ignore[arg-type]


def test_people_present_with_the_glasses_that_they_wear() -> None:
    bare, glasses = parse_acuity("6/36"), parse_acuity("6/9")
    assert presenting(unaided=bare, with_glasses=glasses) is glasses
    assert presenting(unaided=bare, with_glasses=None) is bare
    assert presenting(unaided=None, with_glasses=None) is None


def test_a_good_or_unknown_result_needs_no_cause() -> None:
    for which in (GOOD, None):
        assert suggested_cause(presenting=which, best=GOOD, found=(), operation_events=("capsule tear",)) is None


@pytest.mark.parametrize(
    ("best", "found", "events", "cause"),
    [
        (GOOD, [Complication.CAPSULE_OPAQUE], ["capsule tear"], Cause.SPECTACLES),
        (POOR, [Complication.UVEITIS, Complication.CAPSULE_OPAQUE], ["capsule tear"], Cause.SEQUELAE),
        (POOR, [Complication.CORNEAL_OEDEMA], [], Cause.SURGERY),
        (POOR, [], ["vitreous loss"], Cause.SURGERY),
        (None, [], [], Cause.SELECTION),
    ],
)
def test_a_cause_is_suggested_with_its_reason(
    best: ResultClass | None, found: list[Complication], events: list[str], cause: Cause
) -> None:
    told = suggested_cause(presenting=POOR, best=best, found=found, operation_events=events)
    assert told is not None
    assert told.cause is cause
    assert told.reason.text
    assert told.reason.basis.value == "common practice"
