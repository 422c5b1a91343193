"""Published schematic eyes: their printed values (checks/tables/schematic.toml) and a general library's rays."""

import json
from pathlib import Path

import numpy as np
import pytest

from sideport.errors import ImpossibleInputError
from sideport.optics.schematic import (
    SCHEMATIC_EYES,
    emmetropic_length_mm,
    refraction_at_length_d,
    schematic_eye,
)
from sideport.optics.trace import cardinal_points, trace_rays

# batoid 0.9.0, made by tests/fixtures_scripts/schematic_rays_batoid.py.
FIXTURE = json.loads((Path(__file__).parent / "fixtures" / "schematic_rays.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("key", SCHEMATIC_EYES)
def test_rays_are_those_of_a_general_library(key):
    """batoid 0.9.0: ``Quadric(R, conic).refract`` surface by surface; heights to 1e-11 mm, slopes to 1e-12."""
    theirs = FIXTURE["eyes"][key]
    rays = trace_rays(schematic_eye(key).surfaces, height_mm=FIXTURE["entering_height_mm"])
    np.testing.assert_allclose(rays.height_at(0.0), theirs["height_mm"], rtol=0, atol=1e-11)
    np.testing.assert_allclose(rays.sine / rays.cosine, theirs["slope"], rtol=0, atol=1e-12)


@pytest.mark.parametrize(
    ("key", "height_mm"), [("legrand1980", -0.0517), ("navarro1985", -0.0185), ("gullstrand1909", -0.0526)]
)
def test_marginal_ray_is_that_of_two_more_libraries(key, height_mm):
    """optiland 0.6.3 and rayoptics 0.9.8 both print this height at the paraxial focus for a ray entering at 2 mm."""
    surfaces = schematic_eye(key).surfaces
    focus_mm = cardinal_points(surfaces).back_focus_mm
    assert float(trace_rays(surfaces, height_mm=2.0).height_at(focus_mm)) == pytest.approx(height_mm, abs=0.00005)


@pytest.mark.parametrize("key", SCHEMATIC_EYES)
def test_an_eye_of_its_emmetropic_length_needs_nothing(key):
    length = emmetropic_length_mm(eye=key)
    assert float(refraction_at_length_d(eye=key, axial_length_mm=length)) == pytest.approx(0.0, abs=1e-9)


def test_unknown_eye_lists_the_known():
    with pytest.raises(ImpossibleInputError, match="legrand1980, navarro1985, gullstrand1909"):
        schematic_eye("unknown")
