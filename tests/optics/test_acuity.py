"""Acuity as written in registers becomes one record, and worse sorts after better."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sideport.optics.acuity import (
    AcuityKind,
    logmar_from_decimal,
    parse_acuity,
)

LETTERS = AcuityKind.LETTERS
FINGERS = AcuityKind.COUNTING_FINGERS
HANDS = AcuityKind.HAND_MOVEMENTS
LIGHT = AcuityKind.LIGHT_PERCEPTION
DARK = AcuityKind.NO_LIGHT_PERCEPTION


@pytest.mark.parametrize(
    ("text", "logmar"),
    [
        ("6/60", 1.0),
        ("6/9.5", math.log10(9.5 / 6)),
        ("6/9,5", math.log10(9.5 / 6)),
        ("20/40", math.log10(2)),
        (" 6 / 18 ", math.log10(3)),
        ("3/60", math.log10(20)),
        ("6/6", 0.0),
        ("6/5", math.log10(5 / 6)),
        ("6/6 P", 0.0),
        ("6/9p", math.log10(1.5)),
        ("6/12 (partial)", math.log10(2)),
        ("6/6-2", 0.0),
        ("6/9+1", math.log10(1.5)),
        ("6/18−1", math.log10(3)),
        ("VA: 6/24", math.log10(4)),
        ("৬/৬০", 1.0),
        ("६/१८", math.log10(3)),
        ("0.5", math.log10(2)),
        ("0,1", 1.0),
        ("1.0", 0.0),
        (".5", math.log10(2)),
        ("logMAR 0.3", 0.3),
        ("LogMAR: -0.1", -0.1),
        ("0.30 logMAR", 0.3),
        ("-0.08 logmar", -0.08),
        ("log mar 1.0", 1.0),
    ],
)
def test_letters(text: str, logmar: float) -> None:
    """Snellen, decimal and logMAR give the same scale."""
    found = parse_acuity(text)
    assert found is not None
    assert found.kind is LETTERS
    assert found.written == text
    assert found.logmar == pytest.approx(logmar, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "kind", "distance_m"),
    [
        ("CF", FINGERS, None),
        ("CF 2m", FINGERS, 2.0),
        ("CF@1m", FINGERS, 1.0),
        ("cf at 3 metres", FINGERS, 3.0),
        ("CF 30 cm", FINGERS, 0.3),
        ("CF 1/2 m", FINGERS, 0.5),
        ("CF ½m", FINGERS, 0.5),
        ("CF 3 ft", FINGERS, 0.9144),
        ("CF 2", FINGERS, None),
        ("CFCF", FINGERS, None),
        ("CF close to face", FINGERS, None),
        ("FC", FINGERS, None),
        ("F.C. 1,5 mtr", FINGERS, 1.5),
        ("Counting fingers 2m", FINGERS, 2.0),
        ("finger counting at 1 meter", FINGERS, 1.0),
        ("HM", HANDS, None),
        ("h.m.", HANDS, None),
        ("HM+", HANDS, None),
        ("HMCF", HANDS, None),
        ("HM 30cm", HANDS, 0.3),
        ("Hand movements", HANDS, None),
        ("hand motion", HANDS, None),
        ("PL", LIGHT, None),
        ("P.L.", LIGHT, None),
        ("PL+", LIGHT, None),
        ("PL +ve", LIGHT, None),
        ("LP", LIGHT, None),
        ("PR accurate", LIGHT, None),
        ("PL+ PR+", LIGHT, None),
        ("PL, PR inaccurate", LIGHT, None),
        ("PL+ PR -", LIGHT, None),
        ("PL PR accurate 4 quadrants", LIGHT, None),
        ("PLPR", LIGHT, None),
        ("light perception", LIGHT, None),
        ("NPL", DARK, None),
        ("NLP", DARK, None),
        ("No PL", DARK, None),
        ("PL-", DARK, None),
        ("PL -ve", DARK, None),
        ("PL − PR −", DARK, None),
        ("PL negative", DARK, None),
        ("no perception of light", DARK, None),
        ("no light perception", DARK, None),
    ],
)
def test_below_the_chart(text: str, kind: AcuityKind, distance_m: float | None) -> None:
    """Acuity below the letter chart keeps its kind, and its distance where a unit was written."""
    found = parse_acuity(text)
    assert found is not None
    assert (found.kind, found.distance_m, found.logmar) == (kind, distance_m, None)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "  ",
        "6/0",
        "0",
        "0.0",
        "<6/60",
        "6/18 PH",
        "6",
        "62",
        "abc",
        "logMAR 9",
        "6/",
        "/60",
        "CF 1/0 m",
        "CF tomorrow",
        "PR",
        "PR -",
        "N6",
        "2026-06-12",
        "-",
        "nan",
    ],
)
def test_uncertain_text_is_left_to_a_person(text: str) -> None:
    """What is no acuity for certain gives None, never a guess."""
    assert parse_acuity(text) is None


@given(st.text())
def test_never_raises(text: str) -> None:
    """Any text gives an acuity or None; letters carry a finite number and nothing else does."""
    found = parse_acuity(text)
    if found is not None:
        assert (found.logmar is not None) == (found.kind is LETTERS)
        assert found.logmar is None or math.isfinite(found.logmar)


def test_order() -> None:
    """Down a register from best to worst, every acuity is worse than all above it."""
    texts = ["6/5", "6/6", "6/9", "6/60", "1/60", "CF 3m", "CF 1m", "CF", "HM", "PL+", "NPL"]
    acuities = [parse_acuity(text) for text in texts]
    for place, one in enumerate(acuities):
        for other in acuities[:place]:
            assert one is not None
            assert other is not None
            assert one.worse_than(other)
            assert not other.worse_than(one)


@given(st.floats(-0.3, 2.5))
def test_decimal_round_trip(logmar: float) -> None:
    """Decimal and logMAR are inverse."""
    assert logmar_from_decimal(decimal=10.0**-logmar) == pytest.approx(logmar, abs=1e-12)
