"""Powers for the bag, the sulcus and the chamber: against published reductions, and never one for another."""

import numpy as np
import pytest

from sideport.errors import ImpossibleInputError
from sideport.knowledge import load_published
from sideport.lens.backup import reduced_for_sulcus, wanted_power
from sideport.lens.formula import Biometry
from sideport.lens.model import LensModel, Placement

KNOWLEDGE = load_published()
PIECES = LensModel("Three-piece C", 118.4, frozenset({Placement.BAG, Placement.SULCUS}), True, 6.0, 3.2, {})
CHAMBER = LensModel("Chamber D", 115.0, frozenset({Placement.CHAMBER}), False, 5.5, 6.0, {})
LENGTHS = Biometry(np.linspace(20.8, 25.0, 40), np.full(40, 43.8))
WITH = {"policy": "auto", "knowledge": KNOWLEDGE}

PRINTED = {30.0: 28.55, 27.5: 26.20, 25.0: 23.84, 22.5: 21.47, 20.0: 19.11, 17.5: 16.73, 15.5: 14.83}
"""Bag power to sulcus power, sulcus_table."""


def test_whole_eyes_lose_what_the_printed_table_takes_off():
    """sulcus_table was made for one cornea and one bag position; eyes of other lengths stay within 0.25 D of it."""
    bag = wanted_power(placement=Placement.BAG, model=PIECES, biometry=LENGTHS, target_d=0.0, **WITH)
    sulcus = wanted_power(placement=Placement.SULCUS, model=PIECES, biometry=LENGTHS, target_d=0.0, **WITH)
    printed = np.interp(bag, list(reversed(PRINTED)), [PRINTED[power] - power for power in reversed(PRINTED)])
    inside = (bag > 15.5) & (bag < 30.0)
    assert inside.sum() > 25
    np.testing.assert_allclose((sulcus - bag)[inside], printed[inside], atol=0.25)


def test_the_advice_of_a_sulcus_series_is_met():
    """dubey2012: at least 1 D less from 18 to 25 D (to the half-dioptre step), 1.5 to 2 D less above 25 D."""
    bag = wanted_power(placement=Placement.BAG, model=PIECES, biometry=LENGTHS, target_d=0.0, **WITH)
    less = bag - wanted_power(placement=Placement.SULCUS, model=PIECES, biometry=LENGTHS, target_d=0.0, **WITH)
    assert np.all(less[(bag > 20) & (bag < 25)] > 0.75)
    assert np.all((less[(bag > 28) & (bag < 32)] > 1.25) & (less[(bag > 28) & (bag < 32)] < 2.25))


def test_the_rounded_rule_and_the_computed_power_agree_within_half_a_dioptre():
    bag = wanted_power(placement=Placement.BAG, model=PIECES, biometry=LENGTHS, target_d=0.0, **WITH)
    inside = (bag > 9.5) & (bag < 30.0)
    computed = wanted_power(placement=Placement.SULCUS, model=PIECES, biometry=LENGTHS, target_d=0.0, **WITH)
    np.testing.assert_allclose(
        computed[inside], reduced_for_sulcus(bag_power_d=bag, knowledge=KNOWLEDGE)[inside], atol=0.5
    )


def test_the_rounded_rule_is_nan_for_nan_and_takes_nothing_off_weak_lenses():
    out = reduced_for_sulcus(bag_power_d=[np.nan, 5.0, -3.0])
    assert np.isnan(out[0])
    assert out[1:].tolist() == [5.0, -3.0]


def test_a_chamber_lens_is_about_three_dioptres_weaker_than_the_bag_lens():
    """Recalled: A near 115 against 118 to 118.4, about 3 D less power in a mean eye."""
    eye = Biometry(23.45, 43.8)
    less = wanted_power(placement=Placement.BAG, model=PIECES, biometry=eye, target_d=0.0, **WITH) - wanted_power(
        placement=Placement.CHAMBER, model=CHAMBER, biometry=eye, target_d=0.0, **WITH
    )
    assert 2.5 < float(less[0]) < 4.5


@pytest.mark.parametrize(
    ("place", "model"),
    [(Placement.BAG, CHAMBER), (Placement.SULCUS, CHAMBER), (Placement.CHAMBER, PIECES)],
)
def test_each_place_refuses_a_model_of_another(place, model):
    with pytest.raises(ImpossibleInputError, match="not made for"):
        wanted_power(placement=place, model=model, biometry=Biometry(23.0, 44.0), target_d=0.0, **WITH)


def test_an_eye_without_keratometry_has_no_power_and_leaves_its_neighbour_alone():
    both = wanted_power(
        placement=Placement.BAG, model=PIECES, biometry=Biometry([23.0, 23.0], [np.nan, 44.0]), target_d=0.0, **WITH
    )
    alone = wanted_power(placement=Placement.BAG, model=PIECES, biometry=Biometry(23.0, 44.0), target_d=0.0, **WITH)
    assert np.isnan(both[0])
    assert both[1] == alone[0]
