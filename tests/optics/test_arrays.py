"""Working in blocks changes nothing but the memory used."""

import numpy as np
import pytest

from sideport.optics.arrays import BLOCK, in_blocks


@pytest.mark.parametrize(
    "shapes",
    [
        ((3 * BLOCK + 7,), ()),
        ((BLOCK + 1, 3), (3,)),
        ((1, 5), (BLOCK, 1)),
        ((2, 3 * BLOCK), (2, 1)),
        ((0,), ()),
        ((), ()),
    ],
)
def test_blocks_equal_the_whole(shapes: tuple[tuple[int, ...], ...]) -> None:
    """Every broadcast shape gives what one pass gives."""
    generator = np.random.default_rng(7)
    one, other = (generator.random(shape) for shape in shapes)
    np.testing.assert_array_equal(in_blocks(np.add, np.asarray(one), np.asarray(other)), one + other)
