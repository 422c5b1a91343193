"""Made ``tests/optics/fixtures/schematic_rays.json`` with a general-purpose optics library, batoid 0.9.0.

To make it again, in an environment of its own (the project does not need batoid to run or to be tested):
``pip install batoid==0.9.0``, then ``python tests/fixtures_scripts/schematic_rays_batoid.py``.

The surfaces are written out here once more, on purpose: the library is to agree with the program, not to be fed by it.
"""

import json
from pathlib import Path

import batoid
import numpy as np

# Key: radii, conics, gaps [mm], indices; the same published eyes as the program's.
EYES = {
    "legrand1980": ([7.8, 6.5, 10.2, -6.0], [0, 0, 0, 0], [0.55, 3.05, 4.0], [1, 1.3771, 1.3374, 1.42, 1.336]),
    "navarro1985": (
        [7.72, 6.5, 10.2, -6.0],
        [-0.26, 0, -3.1316, -1],
        [0.55, 3.05, 4.0],
        [1, 1.376, 1.3374, 1.42, 1.336],
    ),
    "gullstrand1909": (
        [7.7, 6.8, 10.0, 7.911, -5.76, -6.0],
        [0] * 6,
        [0.5, 3.1, 0.546, 2.419, 0.635],
        [1, 1.376, 1.336, 1.386, 1.406, 1.386, 1.336],
    ),
}
HEIGHTS = [0.001, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0]


def surface(radius, conic):
    """A surface; the library's general conic fails at exactly -1, for which it has its own class."""
    return batoid.Paraboloid(radius) if conic == -1 else batoid.Quadric(radius, conic)


def trace(radii, conics, gaps, indices):
    """Height [mm] and slope of each ray behind the last surface, on the plane of its vertex."""
    heights = np.array(HEIGHTS)
    zero = np.zeros_like(heights)
    rays = batoid.RayVector(zero, heights, zero - 5.0, zero, zero, zero + 1.0)
    place = 0.0
    for which, (radius, conic) in enumerate(zip(radii, conics, strict=True)):
        rays = surface(radius, conic).refract(
            rays,
            batoid.ConstMedium(indices[which]),
            batoid.ConstMedium(indices[which + 1]),
            coordSys=batoid.CoordSys(origin=[0, 0, place]),
        )
        if which < len(gaps):
            place += gaps[which]
    slope = rays.vy / rays.vz
    at_vertex = rays.y - rays.z * slope
    return {"height_mm": at_vertex.tolist(), "slope": slope.tolist()}


if __name__ == "__main__":
    made = {
        "library": f"batoid {batoid.__version__}",
        "entering_height_mm": HEIGHTS,
        "eyes": {key: trace(*table) for key, table in EYES.items()},
    }
    target = Path(__file__).parents[1] / "optics" / "fixtures" / "schematic_rays.json"
    target.write_text(json.dumps(made, indent=1) + "\n", encoding="utf-8")
