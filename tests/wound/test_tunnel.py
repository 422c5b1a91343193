"""Tunnel geometry against adaptive integration in other coordinates, and by hand."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from sideport.errors import ImpossibleInputError
from sideport.knowledge import load_published
from sideport.wound.plan import WoundShape
from sideport.wound.seal import self_sealing
from sideport.wound.tunnel import Tunnel, globe, outer_curve, tunnel_geometry

KNOWLEDGE = load_published()
EYE = globe(knowledge=KNOWLEDGE, white_to_white_mm=11.7, mean_k_d=44.0, scleral_radius_mm=11.5)
SHAPES = list(WoundShape)


def measured(shape=WoundShape.FROWN, length=6.5, back=1.5, lip=1.75, eye=EYE, **rest):
    return tunnel_geometry(tunnel=Tunnel(shape, length, back, lip, **rest), eye=eye, knowledge=KNOWLEDGE)


def point(tunnel, share):
    return np.array([one[0] for one in outer_curve(tunnel=tunnel, eye=EYE, share=[share], knowledge=KNOWLEDGE)])


@pytest.mark.parametrize("shape", SHAPES)
def test_every_point_lies_on_the_sclera_and_the_ends_are_a_chord_apart(shape):
    """All points are one scleral radius from its centre; calliper length is the distance of the end points."""
    tunnel = Tunnel(shape, 6.5, 1.5, 1.75)
    places = np.array([point(tunnel, share) for share in np.linspace(-1, 1, 9)])
    assert np.linalg.norm(places, axis=1) == pytest.approx(11.5)
    chord = np.linalg.norm(places[0] - places[-1])
    assert measured(shape).chord_mm == pytest.approx(chord)
    if shape is not WoundShape.SMILE:
        assert chord == pytest.approx(6.5)


@pytest.mark.parametrize("shape", SHAPES)
def test_arc_length_by_adaptive_integration_of_the_curve(shape):
    """Speed by central differences in space, integrated by quad, against the closed metric on the sphere."""
    tunnel, step = Tunnel(shape, 7.0, 1.5, 1.75), 1e-5

    def speed(share):
        return np.linalg.norm(point(tunnel, share + step) - point(tunnel, share - step)) / (2 * step)

    whole = 2 * quad(speed, 2 * step, 1 - 2 * step, epsabs=1e-9)[0]
    assert measured(shape, 7.0).arc_mm == pytest.approx(whole, abs=5e-4)


@pytest.mark.parametrize("shape", SHAPES)
def test_scleral_floor_by_adaptive_integration_over_azimuth(shape):
    """Between limbus and cut: R^2 (cos limbus - cos cut) over the azimuth, the cut found by root for each meridian."""
    from scipy.optimize import brentq

    tunnel = Tunnel(shape, 6.0, 1.5, 1.75)
    out, side, _ = point(tunnel, 1.0)
    edge = np.arctan2(side, out)

    def height(azimuth):
        def off(share):
            place = point(tunnel, share)
            return np.arctan2(place[1], place[0]) - azimuth

        return np.cos(EYE.scleral_angle) - point(tunnel, brentq(off, 0.0, 1.0 + 1e-9, xtol=1e-13))[2] / 11.5

    area = 2 * 11.5**2 * quad(height, 0, edge, epsabs=1e-8)[0]
    assert measured(shape, 6.0).scleral_area_mm2 == pytest.approx(area, abs=1e-5)


@pytest.mark.parametrize("shape", SHAPES)
def test_pockets_and_corneal_floor_by_adaptive_integration(shape):
    """Width of the sides beyond the outer ends, circle by circle, and the cap between two circles of the cornea."""
    found = measured(shape, 6.0)
    end, inner = np.radians(found.end_azimuth_deg), np.radians(found.inner_azimuth_deg)
    reach, ball = float(found.end_distance_mm), float(EYE.corneal_radius_mm)

    def ring(along):
        if along >= 0:
            return 11.5 * np.sin(float(EYE.scleral_angle) + along / 11.5)
        return ball * np.sin(float(EYE.corneal_angle) + along / ball)

    def width(along):
        return 2 * float(inner - end) * (reach - along) / (reach + 1.75) * ring(along)

    pockets = quad(width, -1.75, reach, points=[0.0], epsabs=1e-9)[0]
    assert found.pocket_area_mm2 == pytest.approx(pockets, abs=1e-6)
    cap = quad(lambda along: 2 * float(end) * ring(along), -1.75, 0)[0]
    assert found.corneal_area_mm2 == pytest.approx(cap, abs=1e-6)
    assert found.area_mm2 == pytest.approx(float(found.scleral_area_mm2) + pockets + cap, abs=1e-6)


def test_straight_cut_by_hand():
    """On a sphere of 11.5 mm a chord of 6 is an arc of 23 asin(3 / 11.5), and its ends lie farther back."""
    found = measured(WoundShape.STRAIGHT, 6.0)
    assert found.arc_mm == pytest.approx(23 * np.arcsin(3 / 11.5))
    cosine = np.cos(EYE.scleral_angle + 1.5 / 11.5) * np.cos(np.arcsin(3 / 11.5))
    assert found.end_distance_mm == pytest.approx(11.5 * (np.arccos(cosine) - EYE.scleral_angle))


def test_smile_keeps_its_distance_and_frown_leaves_the_limbus():
    """Ends: a smile at the centre's distance, straight a little behind, frown and chevron well behind."""
    ends = [float(measured(shape).end_distance_mm) for shape in (WoundShape.SMILE, WoundShape.STRAIGHT)]
    frown, chevron = (float(measured(shape).end_distance_mm) for shape in (WoundShape.FROWN, WoundShape.CHEVRON))
    assert ends[0] == pytest.approx(1.5)
    assert ends[0] < ends[1] < frown == pytest.approx(chevron)
    assert measured(WoundShape.FROWN).nearest_distance_mm == pytest.approx(1.5)


@given(st.floats(2, 8), st.floats(0.1, 1.5), st.sampled_from(SHAPES))
def test_longer_is_longer_everywhere(length, more, shape):
    """Arc, chord, inner opening and areas rise with the length; the neutral share never does."""
    small, large = measured(shape, length), measured(shape, length + more)
    for name in ("arc_mm", "chord_mm", "inner_arc_mm", "scleral_area_mm2", "corneal_area_mm2", "area_mm2"):
        assert getattr(large, name) > getattr(small, name)
    assert large.neutral_share <= small.neutral_share


def test_neutral_funnel():
    """The base on the limbus is neutral, wider is not; a longer cut fits farther back; a frown lies more inside."""
    assert measured(WoundShape.SMILE, 2.99, 0.0).inside_funnel
    assert not measured(WoundShape.SMILE, 3.01, 0.0).inside_funnel
    assert measured(WoundShape.SMILE, 3.3, 1.5).inside_funnel
    assert measured(WoundShape.FROWN).neutral_share > measured(WoundShape.SMILE).neutral_share


def test_unknown_measures_are_told():
    """What is not known comes from the population and is named; what is known is not."""
    assert globe(knowledge=KNOWLEDGE, mean_k_d=45.0).assumed == ("white_to_white_mm", "scleral_radius_mm")
    assert globe(knowledge=KNOWLEDGE, mean_k_d=45.0).corneal_radius_mm == pytest.approx(7.5)


def test_shapes_and_missing_rows():
    """Broadcasting, and NaN in its own row only."""
    found = measured(length=[[5.0], [6.0]], back=[1.0, np.nan, 2.0])
    assert found.arc_mm.shape == (2, 3)
    for name in type(found).__dataclass_fields__:
        assert np.isnan(getattr(found, name)).tolist() == [[False, True, False]] * 2, name


def test_tunnels_that_cannot_be():
    """No length, negative distances, a cut longer than the eye, a limbus wider than the cornea."""
    with pytest.raises(ImpossibleInputError, match="above 0"):
        measured(length=0.0)
    with pytest.raises(ImpossibleInputError, match="negative"):
        measured(back=-0.1)
    with pytest.raises(ImpossibleInputError, match="does not fit this eye"):
        measured(length=25.0)
    with pytest.raises(ImpossibleInputError, match="does not fit this cornea"):
        measured(lip=9.0)
    with pytest.raises(ImpossibleInputError, match="narrower"):
        globe(knowledge=KNOWLEDGE, white_to_white_mm=16.0)


def test_usual_tunnel_needs_no_suture():
    """Common practice: about 7 mm, 1.5 to 2 mm back, 1.5 to 2 mm into clear cornea, closes by itself."""
    for back in (1.5, 2.0):
        for lip in (1.5, 2.0):
            seal = self_sealing(width_mm=7.0, limbus_distance_mm=back, corneal_mm=lip, knowledge=KNOWLEDGE)
            assert seal.seals
            assert seal.studied


@pytest.mark.parametrize(
    ("width", "back", "lip", "seals", "source"),
    [
        (3.2, 1.5, 1.5, True, "ernest1994"),
        (3.2, 1.5, 1.0, False, "ernest1994"),
        (3.5, 0.0, 2.0, True, "mackool1996"),
        (3.2, 0.0, 1.9, False, "mackool1996"),
    ],
)
def test_published_criteria(width, back, lip, seals, source):
    """A 1.5 mm inner lip from the sclera (ernest1994), 2.0 mm in the cornea (mackool1996), at the widths tested."""
    found = self_sealing(width_mm=width, limbus_distance_mm=back, corneal_mm=lip, knowledge=KNOWLEDGE)
    assert found.seals is seals
    first = found.criteria[0]
    assert (first.source, first.studied, first.met) == (source, True, seals)


def test_no_tunnel_no_seal():
    """A cut without a tunnel, or one of unknown length, is not called self-sealing."""
    for lip in (0.0, float("nan")):
        assert not self_sealing(width_mm=10.0, limbus_distance_mm=0.0, corneal_mm=lip, knowledge=KNOWLEDGE).seals
