"""The small pictures and marks that the app itself draws."""

import math
from dataclasses import replace
from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sample_plan import sample_eye
from sideport.app.planning.pages import counted, odds_steps, total_of, waterfall_steps
from sideport.app.templatetags.figures import at_most, formula, parts
from sideport.app.templatetags.marks import language_of, mark, place, ready, side
from sideport.day.plan import CostLine, ReadyState
from sideport.knowledge import Basis, Severity
from sideport.lens.model import Placement
from sideport.lens.registry import FORMULAS
from sideport.optics.side import Side
from sideport.risk.advice import OddsFactor, WaterfallStep

ratios = st.lists(st.floats(min_value=0.1, max_value=30), max_size=8)


@given(ratios)
def test_steps_join_end_to_start_and_stay_inside_the_picture(odds_ratios: list[float]) -> None:
    factors = tuple(OddsFactor(str(at), ratio, "x", Basis.PUBLISHED) for at, ratio in enumerate(odds_ratios))
    eye = sample_eye()
    eye = replace(eye, risk=replace(eye.risk, factors=factors, composite_odds_ratio=math.prod(odds_ratios)))
    steps = odds_steps(eye)
    assert len(steps) == len(factors) + 1
    for step in steps:
        assert step.start >= -0.02
        assert step.start + step.width <= 100.02
    reached = 1.0
    for before, after, ratio in zip(steps, steps[1:-1], odds_ratios, strict=False):
        joint = before.start + (before.width if ratio >= 1 else 0)
        start = after.start + (0 if after.odds_ratio >= 1 else after.width)
        assert start == pytest.approx(joint, abs=0.03)
        reached *= ratio


def test_equal_odds_draw_equal_widths_on_the_logarithmic_scale() -> None:
    twice = tuple(OddsFactor(name, 2.0, "x", Basis.PUBLISHED) for name in "ab")
    eye = sample_eye()
    first, second, _ = odds_steps(replace(eye, risk=replace(eye.risk, factors=twice, composite_odds_ratio=4.0)))
    assert (first.start, first.width, second.start, second.width) == (0, 50, 50, 50)


@given(st.lists(st.floats(min_value=-0.02, max_value=0.05), min_size=1, max_size=8))
def test_the_waterfall_ends_at_the_probability_and_stays_inside_the_picture(changes: list[float]) -> None:
    steps, reached = [], 0.0
    for change in (0.1, *changes):
        reached = max(reached + change, 0.0)
        before = steps[-1].probability if steps else 0.0
        steps.append(WaterfallStep("x", 1.0, reached, reached - before, "x", Basis.PUBLISHED))
    eye = sample_eye()
    found = waterfall_steps(replace(eye, risk=replace(eye.risk, waterfall=tuple(steps))))
    assert found[-1].after == reached
    highest = max(step.probability for step in steps)
    for step, drawn in zip(steps, found, strict=True):
        edges = (drawn.start, drawn.start + drawn.width)
        assert -0.02 <= edges[0] <= edges[1] <= 100.02
        assert min(abs(edge - 100 * step.probability / highest) for edge in edges) < 0.02


@pytest.mark.parametrize(("dose", "written"), [(154.69, "154.6\xa0mg"), (200.0, "200.0\xa0mg"), (0.3, "0.3\xa0mg")])
def test_a_largest_dose_is_rounded_down_never_up(dose: float, written: str) -> None:
    assert at_most(dose, "mg") == written


@pytest.mark.parametrize("state", list(ReadyState))
def test_each_state_of_readiness_has_a_word_and_a_shape_that_is_drawn(state: ReadyState) -> None:
    said = ready(state)
    shapes = (files("sideport.app") / "templates" / "shapes.html").read_text(encoding="utf-8")
    name = said.partition('href="#')[2].partition('"')[0]
    assert f'id="{name}"' in shapes
    assert said.rpartition("</svg>")[2].removesuffix("</span>")


def test_flags_are_counted_worst_first() -> None:
    found = counted([Severity.NOTE, Severity.STOP, Severity.WARN, Severity.NOTE])
    assert [(entry.severity, entry.count) for entry in found] == [
        (Severity.STOP, 1), (Severity.WARN, 1), (Severity.NOTE, 2)]  # fmt: skip


def test_a_missing_price_is_left_out_of_the_sum_and_named() -> None:
    total = total_of((CostLine("Lens", 9.5), CostLine("Dye", None)))
    assert total.amount == 9.5
    assert total.unpriced == ("Dye",)


@pytest.mark.parametrize(
    ("name", "language"), [("Tansy", ""), ("রুক্মিণী", "bn"), ("कृष्णा", "hi"), ("A. कृष्णा", "hi"), ("", "")]
)
def test_the_script_tells_the_language(name: str, language: str) -> None:
    assert language_of(name) == language


def test_sides_differ_in_word_shape_and_fill() -> None:
    right, left = side(Side.RIGHT), side(Side.LEFT)
    assert "RIGHT" in right
    assert "#shape-right" in right
    assert "side-right" in right
    assert "LEFT" in left
    assert "#shape-left" in left
    assert "side-left" in left


@pytest.mark.parametrize("placement", list(Placement))
def test_each_place_is_a_word_in_a_frame_of_its_own(placement: Placement) -> None:
    assert f"place-{placement.value}" in place(placement)
    assert placement.value.upper() in place(placement)


@pytest.mark.parametrize("severity", list(Severity))
def test_each_severity_has_a_word_and_a_shape(severity: Severity) -> None:
    assert f"#shape-{severity.value}" in mark(severity)
    assert mark(severity) == mark(severity.value)


def test_a_mean_of_formulas_is_taken_apart() -> None:
    assert parts("srk-t + holladay-1") == ["srk-t", "holladay-1"]
    assert parts("srk-t") == ["srk-t"]
    assert parts("") == []


def test_a_formula_leads_to_its_source_and_an_unknown_one_stays_a_word() -> None:
    for key, known in FORMULAS.items():
        assert formula(key) == f'<a href="/sources/{known.source}/">{known.label}</a>'
    assert formula("other") == "other"
