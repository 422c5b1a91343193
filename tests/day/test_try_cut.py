"""Trying another cut: the planned one comes back as planned, and what is moved moves the right way."""

from dataclasses import replace

import numpy as np
import pytest
from bench.big_day import big_day
from hypothesis import given
from hypothesis import strategies as st

from sideport.day import plan_day
from sideport.day.plan import EyePlan
from sideport.day.try_cut import CutAsked, cut_limits, planned_cut, try_cut
from sideport.errors import ImpossibleInputError
from sideport.knowledge import Effect, load_published
from sideport.optics.side import Side
from sideport.wound.plan import Site, WoundShape
from sideport.wound.technique import Technique

KNOWLEDGE = load_published()
SAME = ("site", "meridian_deg", "length_mm", "tunnel_mm", "shape", "passes", "seals", "arc_mm", "end_distance_mm",
        "inner_opening_mm", "neutral_share", "induced_d", "induced_axis_deg", "cylinder_d", "cylinder_axis_deg",
        "within_half", "within_one", "within_one_and_half", "refractive_cylinder_d", "refractive_axis_deg",
        "refractive_within_one")  # fmt: skip


@pytest.fixture(scope="module")
def eyes() -> tuple[EyePlan, ...]:
    planned = plan_day(big_day(eyes=24, boxes=90), KNOWLEDGE, seed=0, inputs_sha256="test")
    return tuple(eye for eye in planned.eyes if eye.wound)


def manual(eyes: tuple[EyePlan, ...]) -> EyePlan:
    return next(eye for eye in eyes if eye.technique.suggested is Technique.MSICS)


def test_the_planned_cut_comes_back_as_the_plan_has_it(eyes: tuple[EyePlan, ...]) -> None:
    """Two ways to the same numbers: the search over all sites and lengths, and one cut by itself."""
    for eye in eyes:
        assert eye.wound
        tried = try_cut(eye=eye, cut=planned_cut(wound=eye.wound), knowledge=KNOWLEDGE)
        for name in SAME:
            planned, again = getattr(eye.wound.chosen, name), getattr(tried.chosen, name)
            assert again == (pytest.approx(planned, abs=1e-9) if isinstance(planned, float) else planned), name
        assert tried.side_ports_deg == pytest.approx(eye.wound.side_ports_deg)


def test_the_runner_up_comes_back_too(eyes: tuple[EyePlan, ...]) -> None:
    for eye in eyes:
        if eye.wound and eye.wound.second:
            second = eye.wound.second
            asked = CutAsked(second.site, second.length_mm, second.limbus_distance_mm, second.shape)
            tried = try_cut(eye=eye, cut=asked, knowledge=KNOWLEDGE).chosen
            assert tried.within_one == pytest.approx(second.within_one, abs=1e-9)
            assert tried.cylinder_axis_deg == pytest.approx(second.cylinder_axis_deg, abs=1e-6)


@given(length=st.floats(4.0, 8.5), step=st.floats(0.1, 0.5), distance=st.floats(0.0, 2.5))
def test_a_longer_cut_bends_more_and_lets_more_through(
    eyes: tuple[EyePlan, ...], length: float, step: float, distance: float
) -> None:
    eye = manual(eyes)
    cuts = [
        try_cut(eye=eye, cut=CutAsked(Site.SUPERIOR, size, distance, WoundShape.FROWN), knowledge=KNOWLEDGE).chosen
        for size in (length, length + step)
    ]
    assert cuts[1].induced_d > cuts[0].induced_d
    assert cuts[1].passes is not None
    assert cuts[0].passes is not None
    assert cuts[1].passes >= cuts[0].passes


@given(distance=st.floats(0.0, 2.5))
def test_a_cut_farther_back_bends_less(eyes: tuple[EyePlan, ...], distance: float) -> None:
    eye = manual(eyes)
    near, far = (
        try_cut(eye=eye, cut=CutAsked(Site.TEMPORAL, 6.5, back, WoundShape.FROWN), knowledge=KNOWLEDGE).chosen
        for back in (distance, distance + 0.5)
    )
    assert far.induced_d < near.induced_d


@pytest.mark.parametrize("site", list(Site))
def test_right_and_left_mirror_each_other(eyes: tuple[EyePlan, ...], site: Site) -> None:
    """The fellow with J45 turned about gets the mirrored cut, the mirrored axis and the same chances."""
    right = manual(eyes)
    assert right.wound
    assert right.cut_grounds
    grounds = replace(right.cut_grounds, j45_d=-right.cut_grounds.j45_d, covariance_d2=-right.cut_grounds.covariance_d2)
    fellow = Side.LEFT if right.side is Side.RIGHT else Side.RIGHT
    left = replace(right, side=fellow, cut_grounds=grounds)
    asked = CutAsked(site, 6.5, 1.5, WoundShape.FROWN)
    one, other = (try_cut(eye=eye, cut=asked, knowledge=KNOWLEDGE).chosen for eye in (right, left))
    assert (one.meridian_deg + other.meridian_deg) % 360 == pytest.approx(180)
    assert other.within_one == pytest.approx(one.within_one, abs=1e-12)
    assert np.cos(np.radians(2 * (one.cylinder_axis_deg + other.cylinder_axis_deg))) == pytest.approx(1, abs=1e-9)


def test_a_site_that_is_closed_or_unusual_says_so(eyes: tuple[EyePlan, ...]) -> None:
    eye = manual(eyes)
    assert eye.cut_grounds
    bare = replace(eye, cut_grounds=replace(eye.cut_grounds, sites=(), closed=()))
    tried = try_cut(eye=bare, cut=CutAsked(Site.SUPERIOR, 6.5, 1.5, WoundShape.FROWN), knowledge=KNOWLEDGE)
    assert tried.reasons[0].effect is Effect.AGAINST
    assert "not usual" in tried.reasons[0].text


def test_a_short_cut_argues_against_itself_by_the_nucleus(eyes: tuple[EyePlan, ...]) -> None:
    tried = try_cut(eye=manual(eyes), cut=CutAsked(Site.SUPERIOR, 4.0, 1.5, WoundShape.FROWN), knowledge=KNOWLEDGE)
    assert any("passes without force" in reason.text and reason.effect is Effect.AGAINST for reason in tried.reasons)


def test_the_limits_hold_the_planned_cut_and_a_cut_beyond_the_eye_is_refused(eyes: tuple[EyePlan, ...]) -> None:
    for eye in eyes:
        assert eye.wound
        limits = cut_limits(wound=eye.wound, technique=eye.technique.suggested, knowledge=KNOWLEDGE)
        assert limits.shortest_mm <= eye.wound.chosen.length_mm <= limits.longest_mm
    with pytest.raises(ImpossibleInputError):
        try_cut(eye=manual(eyes), cut=CutAsked(Site.SUPERIOR, 60.0, 1.5, WoundShape.FROWN), knowledge=KNOWLEDGE)


def test_a_plan_without_grounds_is_to_be_made_again(eyes: tuple[EyePlan, ...]) -> None:
    asked = CutAsked(Site.SUPERIOR, 6.5, 1.5, WoundShape.FROWN)
    with pytest.raises(ImpossibleInputError, match="plan the day again"):
        try_cut(eye=replace(manual(eyes), cut_grounds=None), cut=asked, knowledge=KNOWLEDGE)
