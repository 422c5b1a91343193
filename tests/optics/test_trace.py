"""Rays through surfaces: against textbook lenses, a wave argument, the paraxial limit and each contract."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sideport.errors import ImpossibleInputError
from sideport.optics.schematic import GULLSTRAND_1909, NAVARRO_1985
from sideport.optics.trace import (
    cardinal_points,
    paraxial_refraction_d,
    surfaces_from_radii,
    trace_rays,
    traced_refraction_d,
)

radii = st.floats(5.0, 60.0)
indices = st.floats(1.3, 1.6)


def single(radius, conic, before, behind):
    return surfaces_from_radii(radius_mm=[radius], conic=[conic], gap_mm=[], index=[before, behind])


@given(first=radii, second=radii, gap=st.floats(0.1, 8.0), glass=indices)
def test_thick_lens_in_air_has_the_textbook_power(first, second, gap, glass):
    """Lensmaker's equation with thickness: P = F1 + F2 - (t / n) F1 F2."""
    lens = surfaces_from_radii(radius_mm=[first, -second], conic=[0, 0], gap_mm=[gap], index=[1.0, glass, 1.0])
    front, back = 1000 * (glass - 1) / first, 1000 * (glass - 1) / second
    assert cardinal_points(lens).power_d == pytest.approx(front + back - 0.001 * gap / glass * front * back)


def test_ball_lens_has_its_principal_planes_at_the_centre():
    ball = surfaces_from_radii(radius_mm=[5.0, -5.0], conic=[0, 0], gap_mm=[10.0], index=[1.0, 1.5, 1.0])
    points = cardinal_points(ball)
    assert (float(points.front_principal_mm), float(points.back_principal_mm)) == pytest.approx((5.0, -5.0))
    assert float(points.back_focal_length_mm) == pytest.approx(7.5)
    assert float(points.front_focus_mm) == pytest.approx(-2.5)


@given(radius=radii, glass=indices, share=st.floats(0.01, 0.8))
def test_descartes_ellipse_has_no_spherical_aberration(radius, glass, share):
    """Descartes: a conic of constant -(n / n')^2 brings every parallel ray to one focus, n' r / (n' - n)."""
    oval = single(radius, -1 / glass**2, 1.0, glass)
    rays = trace_rays(oval, height_mm=share * radius * np.sqrt(1 - 1 / glass**2))
    assert float(rays.height_at(glass * radius / (glass - 1))) == pytest.approx(0.0, abs=1e-9)


@given(radius=radii, glass=indices, share=st.floats(0.02, 0.6))
def test_aplanatic_points_of_a_sphere_image_without_aberration(radius, glass, share):
    """Weierstrass: rays towards r (1 + n) behind the vertex all meet at r (1 + 1 / n), whatever their height."""
    virtual, image = radius * (1 + glass), radius * (1 + 1 / glass)
    sine = -share / glass
    height = virtual * share / np.sqrt(glass**2 - share**2)
    rays = trace_rays(single(radius, 0.0, 1.0, glass), height_mm=height, sine=sine)
    assert float(rays.height_at(image)) == pytest.approx(0.0, abs=1e-9)


@given(angle=st.floats(-0.9, 0.9), glass=indices)
def test_a_flat_surface_obeys_the_law_of_refraction(angle, glass):
    flat = single(np.inf, 0.0, 1.0, glass)
    assert float(trace_rays(flat, height_mm=1.0, sine=angle).sine) == pytest.approx(angle / glass)


@pytest.mark.parametrize("eye", [GULLSTRAND_1909, NAVARRO_1985])
def test_narrow_rays_meet_the_paraxial_focus(eye):
    """Aberration falls with the cube of the height: a tenth of the height misses by a thousandth."""
    focus = cardinal_points(eye.surfaces).back_focus_mm
    wide, narrow = (float(trace_rays(eye.surfaces, height_mm=h).height_at(focus)) for h in (0.2, 0.02))
    assert narrow == pytest.approx(wide / 1000, rel=0.02)


@given(length=st.floats(20, 32))
def test_refraction_inverts_the_vergence_it_names(length):
    """A paraxial ray aimed at the far point that the refraction names lands on the retina's centre."""
    eye = GULLSTRAND_1909
    retina = length - sum(eye.gap_mm)
    refraction = float(paraxial_refraction_d(eye.surfaces, retina_mm=retina))
    height = 1e-4
    landed = trace_rays(eye.surfaces, height_mm=height, sine=-height * refraction / 1000).height_at(retina)
    assert float(landed) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("pupil", [1.0, 3.0, 5.0])
def test_traced_refraction_makes_the_smallest_spot(pupil):
    """Rays sent in from the far point spread least, by root mean square over the pupil, within 0.01 D of it."""
    eye, retina = NAVARRO_1985, 17.0
    named = float(traced_refraction_d(eye.surfaces, retina_mm=retina, pupil_mm=pupil))
    heights = np.sqrt((np.arange(400) + 0.5) / 400) * pupil / 2
    tried = named + np.linspace(-0.2, 0.2, 401)
    spots = []
    for refraction in tried:
        sine = np.sin(-np.arctan(heights * refraction / 1000))
        spots.append(
            float(np.sqrt(np.mean(trace_rays(eye.surfaces, height_mm=heights, sine=sine).height_at(retina) ** 2)))
        )
    assert abs(tried[int(np.argmin(spots))] - named) < 0.01


def test_traced_refraction_starts_at_the_paraxial_and_turns_myopic():
    """With the eye's positive aberration a wider pupil is more myopic, at first with the square of its width."""
    eye = GULLSTRAND_1909
    found = traced_refraction_d(eye.surfaces, retina_mm=16.8, pupil_mm=np.array([0.0, 0.5, 1.0, 2.0, 4.0]))
    assert found[0] == paraxial_refraction_d(eye.surfaces, retina_mm=16.8)
    assert np.all(np.diff(found) < 0)
    assert (found[0] - found[2]) / (found[0] - found[1]) == pytest.approx(4.0, rel=0.02)


def test_eyes_and_rays_broadcast_row_by_row():
    """Two eyes and three rays give what each pair gives alone."""
    both = surfaces_from_radii(
        radius_mm=[[7.8, 7.4], [6.5, 6.1]], conic=[[0, -0.2], [0, 0]], gap_mm=[0.5], index=[1.0, 1.376, 1.336]
    )
    rays = trace_rays(both, height_mm=np.array([0.5, 1.0, 2.0])[:, None])
    assert rays.sine.shape == (3, 2)
    alone = surfaces_from_radii(radius_mm=[7.4, 6.1], conic=[-0.2, 0], gap_mm=[0.5], index=[1.0, 1.376, 1.336])
    assert trace_rays(alone, height_mm=2.0).sine == pytest.approx(rays.sine[2, 1], abs=1e-15)
    assert paraxial_refraction_d(both, retina_mm=np.array([[23.0], [24.0]])).shape == (2, 2)


def test_a_ray_that_misses_and_a_missing_eye_are_nan():
    ball = single(5.0, 0.0, 1.0, 1.5)
    assert np.isnan(trace_rays(ball, height_mm=np.array([1.0, 6.0])).sine).tolist() == [False, True]
    assert np.isnan(trace_rays(single(-5.0, 0.0, 1.5, 1.0), height_mm=4.5).sine)
    assert np.isnan(paraxial_refraction_d(single(np.nan, 0.0, 1.0, 1.5), retina_mm=20.0))


def test_impossible_surfaces_are_refused():
    with pytest.raises(ImpossibleInputError, match="do not fit together"):
        surfaces_from_radii(radius_mm=[5, 5], conic=[0, 0], gap_mm=[1, 1], index=[1, 1.5, 1])
    with pytest.raises(ImpossibleInputError, match="radius cannot be 0"):
        single(0.0, 0.0, 1.0, 1.5)
    with pytest.raises(ImpossibleInputError, match="distance between surfaces"):
        surfaces_from_radii(radius_mm=[5, 5], conic=[0, 0], gap_mm=[-1], index=[1, 1.5, 1])
    with pytest.raises(ImpossibleInputError, match="to the retina"):
        paraxial_refraction_d(single(5.0, 0.0, 1.0, 1.5), retina_mm=-1.0)
    with pytest.raises(ImpossibleInputError, match="pupil"):
        traced_refraction_d(single(5.0, 0.0, 1.0, 1.5), retina_mm=20.0, pupil_mm=-1.0)
