"""What to fetch: the wanted power, rounded to one that is made, in the placement that was asked for."""

import numpy as np
import pytest

from sideport.errors import ImpossibleInputError
from sideport.knowledge import load_published
from sideport.lens.backup import wanted_power
from sideport.lens.formula import Biometry
from sideport.lens.model import LensModel, Placement
from sideport.shelf.needs import lens_needs, power_to_ask_for

KNOWLEDGE = load_published()
PIECES = LensModel("Three-piece C", 118.7, frozenset({Placement.BAG, Placement.SULCUS}), True, 6.0, 3.2, {})
EYES = Biometry(np.array([23.4, np.nan, 15.0]), np.array([44.0, 44.0, 49.0]))


def needs(placement=Placement.BAG):
    return lens_needs(
        model=PIECES, placement=placement, biometry=EYES, target_d=-0.5, policy="auto", knowledge=KNOWLEDGE
    )


def test_the_asked_power_is_within_half_a_step_of_the_wanted_one():
    wanted = wanted_power(
        model=PIECES, placement=Placement.BAG, biometry=EYES, target_d=-0.5, policy="auto", knowledge=KNOWLEDGE
    )
    assert abs(needs()[0].power_d - wanted[0]) <= 0.25
    assert needs()[0].power_d * 2 == int(needs()[0].power_d * 2)


def test_halfway_rounds_to_the_stronger_lens_on_both_sides_of_zero():
    assert power_to_ask_for(wanted_d=[20.25, -0.25], knowledge=KNOWLEDGE).tolist() == [20.5, 0.0]


def test_an_eye_without_length_has_no_power_to_ask_for():
    assert needs()[1] is None


def test_a_power_that_nobody_makes_says_measure_again():
    assert "measure the eye again" in needs()[2].reason


def test_the_sulcus_asks_for_less_than_the_bag():
    assert needs(Placement.SULCUS)[0].power_d < needs()[0].power_d
    assert needs(Placement.SULCUS)[0].placement is Placement.SULCUS


def test_a_placement_the_model_is_not_made_for_is_refused():
    with pytest.raises(ImpossibleInputError, match="not made for the chamber"):
        needs(Placement.CHAMBER)
