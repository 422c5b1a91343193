"""The planned cut follows the cornea, the nucleus, the lens and what stands in the way."""

import numpy as np
import pytest

from sideport.errors import ImpossibleInputError
from sideport.eye.person import Cataract, EyeRecord
from sideport.eye.summary import Estimate, EyeSummary
from sideport.knowledge import load_published
from sideport.optics.side import Side
from sideport.wound import Site, Technique, WoundShape, plan_wound
from sideport.wound.learned import own_results
from sideport.wound.length import cut_lengths
from sideport.wound.nucleus import nucleus_belief, nucleus_class

KNOWLEDGE = load_published()


def estimate(value):
    return Estimate(value=value, sd=0.1, readings=3, origin="3 readings")


def summary(magnitude, axis):
    rest = [estimate(value) for value in (3.1, 4.5, 11.7)]
    return EyeSummary(estimate(23.4), estimate(44.0), estimate(magnitude), axis, *rest)


def plan(
    magnitude=1.0,
    axis=90.0,
    technique=Technique.MSICS,
    lens=6.0,
    right_handed=True,
    side=Side.RIGHT,
    own=(),
    **findings,
):
    doubled = np.radians(2 * axis)
    findings.setdefault("nucleus_grade", 3.0)
    return plan_wound(
        record=EyeRecord(side=side, listed=True, **findings),
        summary=summary(magnitude, axis),
        astigmatism_mean=0.5 * magnitude * np.array([np.cos(doubled), np.sin(doubled)]),
        astigmatism_covariance=0.02 * np.eye(2),
        technique=technique,
        lens_incision_mm=lens,
        surgeon_right_handed=right_handed,
        knowledge=KNOWLEDGE,
        own_results=own,
    )


def lengths_of(record, technique, lens):
    nucleus = nucleus_belief(record=record, knowledge=KNOWLEDGE)
    return cut_lengths(record=record, nucleus=nucleus, technique=technique, lens_incision_mm=lens, knowledge=KNOWLEDGE)


@pytest.mark.parametrize("side", list(Side))
@pytest.mark.parametrize(
    ("magnitude", "axis", "site"),
    [(1.5, 90, Site.SUPERIOR), (1.0, 180, Site.TEMPORAL), (1.0, 0, Site.TEMPORAL), (0.1, 90, Site.SUPEROTEMPORAL)],
)
def test_published_rule_emerges(magnitude, axis, site, side):
    """Steep vertical over 1 D: superior; steep horizontal: temporal; round: superotemporal (msics120eyes)."""
    assert plan(magnitude, axis, side=side).chosen.site is site


def test_against_the_rule_is_made_worse_from_above():
    """A superior cut on a horizontally steep cornea adds up, as superior58eyes saw; so it is not chosen."""
    found = plan(1.42, 179)
    assert found.chosen.cylinder_d < 1.42
    assert found.chosen.site is Site.TEMPORAL


def test_mirror():
    """A left eye with the mirrored cornea and a surgeon of the other hand gets the mirrored cut."""
    right = plan(1.5, 40, side=Side.RIGHT, right_handed=True).chosen
    left = plan(1.5, 140, side=Side.LEFT, right_handed=False).chosen
    assert left.site is right.site
    assert left.meridian_deg == (180 - right.meridian_deg) % 360
    assert left.cylinder_d == pytest.approx(right.cylinder_d)
    assert (left.cylinder_axis_deg + right.cylinder_axis_deg) % 180 == pytest.approx(0, abs=1e-6)


def test_bleb_closes_the_upper_sites():
    """Even a vertically steep cornea is cut temporally when a bleb lies above, and the reason is given."""
    found = plan(2.0, 90, bleb=True)
    assert found.chosen.site is Site.TEMPORAL
    assert any("bleb" in reason.text for reason in found.reasons)


def test_deep_set_eye_moves_the_cut():
    """At a tie between superior and others the brow decides against superior."""
    assert plan(1.2, 90).chosen.site is Site.SUPERIOR
    assert plan(1.2, 90, deep_set=True).chosen.site is not Site.SUPERIOR


def test_pterygium_keeps_away_from_the_nose():
    """Superonasal is left where a pterygium lies."""
    assert plan(1.5, 45).chosen.site is Site.SUPERONASAL
    assert plan(1.5, 45, pterygium=True).chosen.site is not Site.SUPERONASAL


def test_glaucoma_spares_upper_conjunctiva():
    """Glaucoma without a bleb tips a round cornea to the temporal side."""
    assert plan(0.1, 90).chosen.site is Site.SUPEROTEMPORAL
    assert plan(0.1, 90, glaucoma=True).chosen.site is Site.TEMPORAL


@pytest.mark.parametrize(
    ("findings", "kind"),
    [
        ({"cataract": Cataract.HYPERMATURE, "nucleus_grade": 2.0}, "free"),
        ({"cataract": Cataract.BLACK}, "very_hard"),
        ({"cataract": Cataract.BROWN}, "hard"),
        ({"cataract": Cataract.BROWN, "nucleus_grade": 2.0}, "hard"),
        ({"cataract": Cataract.WHITE}, "unknown"),
        ({"nucleus_grade": 2.0}, "soft"),
        ({"nucleus_grade": 2.5}, "moderate"),
        ({"nucleus_grade": 5.9}, "very_hard"),
        ({}, "unknown"),
    ],
)
def test_nucleus_class(findings, kind):
    """Kind of cataract before grade; a white lens hides its nucleus."""
    record = EyeRecord(side=Side.LEFT, listed=True, **findings)
    assert nucleus_class(record=record, knowledge=KNOWLEDGE) == kind


@pytest.mark.parametrize(
    ("technique", "lengths"), [(Technique.PHACO, (2.8,)), (Technique.ECCE, (10.0,)), (Technique.ICCE, (12.0,))]
)
def test_lengths_of_other_techniques(technique, lengths):
    """Usual cuts by technique (msicsreview); NaN for a lens not chosen changes nothing."""
    record = EyeRecord(side=Side.LEFT, listed=True, nucleus_grade=3.0)
    found = lengths_of(record, technique, float("nan"))
    assert found.lengths_mm == lengths


def test_lens_sets_a_floor():
    """A lens that needs 6.5 mm is never offered a shorter cut, and a soft nucleus then has one length."""
    record = EyeRecord(side=Side.LEFT, listed=True, nucleus_grade=1.0)
    found = lengths_of(record, Technique.MSICS, 6.5)
    assert found.lengths_mm == (6.5,)
    assert any("6.5" in reason.text for reason in found.reasons)


def test_hypermature_begins_short_with_room():
    """Unknown nucleus size: 6 mm to begin with, and how far to extend."""
    found = plan(cataract=Cataract.HYPERMATURE)
    assert found.chosen.length_mm == 6.0
    assert any("extend to 8 mm" in reason.text for reason in found.reasons)


def test_common_practice_geometry():
    """About 7 mm for an unknown nucleus, frown, 1.5 mm back, 1.5 to 2 mm of clear cornea (common practice)."""
    found = plan(nucleus_grade=None).chosen
    assert (found.length_mm, found.shape, found.limbus_distance_mm) == (7.0, WoundShape.FROWN, 1.5)
    assert 1.5 <= found.tunnel_mm <= 2.0


def test_side_ports():
    """A superior manual cut has ports at 9 and 3 o'clock; phaco has one under the other hand."""
    assert plan(2.0, 90).side_ports_deg == (0.0, 180.0)
    temporal = plan(1.0, 180, technique=Technique.PHACO, lens=2.8, side=Side.RIGHT)
    assert temporal.chosen.meridian_deg == 180
    # At the temporal side of the right eye, looking nasally, the left hand lies above: at 110, near 12 o'clock.
    assert temporal.side_ports_deg == (110.0,)
    assert plan(1.0, 180, Technique.PHACO, 2.8, right_handed=False).side_ports_deg == (250.0,)


def test_large_cut_stays_above_unless_barred():
    """Extracapsular surgery is done from above; only a bleb moves it."""
    found = plan(1.0, 180, Technique.ECCE)
    assert (found.chosen.site, found.second) == (Site.SUPERIOR, None)
    assert plan(1.0, 180, Technique.ECCE, bleb=True).chosen.site is Site.TEMPORAL


def test_every_reason_has_a_source():
    """Each reason points into the bibliography, and the runner-up is another site."""
    found = plan(deep_set=True, glaucoma=True)
    assert found.second is not None
    assert found.second.site is not found.chosen.site
    for reason in found.reasons:
        assert KNOWLEDGE.source(reason.source)


def test_refused():
    """No cut for a referral, for a lens of no size, or for a cornea without a belief."""
    with pytest.raises(ImpossibleInputError, match="referred"):
        plan(technique=Technique.REFER)
    with pytest.raises(ImpossibleInputError, match="cannot need"):
        plan(lens=0.0)
    with pytest.raises(ImpossibleInputError, match="belief"):
        plan(magnitude=float("nan"))


def test_the_small_cylinders_are_nested():
    """Up to 0.5 is rarer than up to 1.0, and that than up to 1.5; the chosen cut scores no worse than the second."""
    found = plan(1.0, 90).chosen
    assert 0 < found.within_half < found.within_one < found.within_one_and_half < 1


def test_spectacles_see_the_back_of_the_cornea_too():
    """0.3 D against the rule is added (koch2012, recalled): a cornea left 0 by the cut still needs minus at 90."""
    found = plan(0.7, 90, cataract=Cataract.BROWN).chosen
    doubled = np.radians(2 * found.cylinder_axis_deg)
    x, y = found.cylinder_d * np.cos(doubled) + 0.3, found.cylinder_d * np.sin(doubled)
    assert found.refractive_cylinder_d == pytest.approx(np.hypot(x, y))
    flat = np.degrees(0.5 * np.arctan2(y, x)) + 90
    assert np.cos(2 * np.radians(found.refractive_axis_deg - flat)) == pytest.approx(1)


def test_passing_decides_between_lengths():
    """A hard nucleus is given a longer cut than a soft one, each passing in about 9 of 10 or at the longest."""
    soft, hard = plan(nucleus_grade=1.5).chosen, plan(nucleus_grade=5.0).chosen
    assert soft.length_mm < hard.length_mm
    assert min(soft.passes, hard.passes) > 0.85


def test_common_practice_needs_no_suture_and_superior_goes_against_the_rule():
    """The planned manual cut seals by itself; a superior one steepens the horizontal (common practice)."""
    found = plan(2.0, 90).chosen
    assert found.seals
    assert found.site is Site.SUPERIOR
    assert found.induced_axis_deg == pytest.approx(0, abs=1e-6)
    assert plan(1.0, 180, Technique.ECCE).chosen.seals is False


def test_own_results_move_the_choice():
    """A surgeon whose superotemporal cuts bend by 1.5 D is led elsewhere; eyes and weight are told."""
    assert plan(0.1, 90).chosen.site is Site.SUPEROTEMPORAL
    vectors = np.tile([0.0, 0.75], (40, 1)) + 0.01 * np.random.default_rng(1).normal(size=(40, 2))
    own = own_results(
        technique=Technique.MSICS, site=Site.SUPEROTEMPORAL, vectors=vectors, meridian_deg=135.0, left_eye=False,
        length_mm=6.0, limbus_distance_mm=1.5,
    )  # fmt: skip
    assert plan(0.1, 90, own=(own,)).chosen.site is not Site.SUPEROTEMPORAL
    # A cornea steep at 135 by 1.5 D is what such a cut mends.
    found = plan(1.5, 135, own=(own,))
    assert found.chosen.site is Site.SUPEROTEMPORAL
    assert found.own_eyes == 40
    assert found.own_weight > 0.8
    assert any("40 own eyes" in reason.text for reason in found.reasons)


def test_more_room_is_kept_ready():
    """Hypermature: how to extend to 8 mm; scissors through a widened port; phaco: conversion to manual delivery."""
    ready = {one.purpose: one for one in plan(cataract=Cataract.HYPERMATURE).extensions}
    assert ready["nucleus does not pass"].to_mm == 8.0
    assert "away from the limbus" in ready["nucleus does not pass"].how
    assert ready["fine scissors or forceps"].to_mm == 2.8
    phaco = {one.purpose: one for one in plan(0.5, 180, Technique.PHACO, 2.8).extensions}
    assert 6.5 <= phaco["conversion to manual delivery"].to_mm <= 8.0
    assert phaco["conversion to a large wound"].to_mm == 10.0


def test_the_runner_up_has_a_price():
    """What the second choice gives away is a number, not negative."""
    reasons = [reason for reason in plan(1.5, 90).reasons if reason.text.startswith("Next best")]
    assert len(reasons) == 1
    assert reasons[0].weight >= 0
