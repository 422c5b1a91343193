"""Lens constants: given ones kept, others converted by published lines, none invented for Haigis, places kept apart."""

import numpy as np
import pytest

from sideport.errors import ImpossibleInputError
from sideport.knowledge import load_published
from sideport.lens.constants import (
    RELATIONS,
    a0_from_a,
    acd_constant_from_a,
    can_sit,
    constant_sd,
    constants_for,
    pacd_from_a,
    pacd_from_sf,
    sf_from_a,
)
from sideport.lens.formula import Biometry
from sideport.lens.model import LensModel, Placement
from sideport.lens.registry import FORMULAS

KNOWLEDGE = load_published()


def model(constants=None, places=(Placement.BAG, Placement.SULCUS), a_constant=118.4, results_n=0):
    return LensModel("Three-piece C", a_constant, frozenset(places), True, 6.0, 3.2, constants or {}, results_n)


def main(formula_key, place=Placement.BAG, **kwargs):
    found = constants_for(model=model(**kwargs), formula_key=formula_key, placement=place, knowledge=KNOWLEDGE)
    return None if found is None else (float(found.constants.main), found.converted)


def test_three_relations_remembered_apart_compose_to_one_another():
    """SF from A followed by pACD from SF gives the printed pACD from A (holladay1988, recalled)."""
    slope = RELATIONS["sf"].slope / 0.9704
    intercept = (RELATIONS["sf"].intercept + 3.595) / 0.9704
    assert round(slope, 5) == RELATIONS["pacd"].slope
    assert round(intercept, 3) == RELATIONS["pacd"].intercept
    a = np.array([115.0, 118.4, 119.2])
    np.testing.assert_allclose(pacd_from_sf(sf=sf_from_a(a_constant=a)), pacd_from_a(a_constant=a), atol=1e-3)


def test_the_haigis_line_is_the_srk_t_line_less_the_mean_depth_and_length():
    """a0 = ACD constant - 0.4 x 3.37 - 0.1 x 23.39 (haigis2000, recalled)."""
    a = np.array([118.0, 119.0])
    np.testing.assert_allclose(a0_from_a(a_constant=a), acd_constant_from_a(a_constant=a) - 0.4 * 3.37 - 0.1 * 23.39)


def test_a_given_constant_is_used_and_not_called_converted():
    assert main("hoffer-q", constants={"pACD": 5.4}) == (5.4, False)
    assert main("srk-t") == (118.4, False)
    assert main("t2") == (118.4, False)


def test_a_missing_constant_is_converted_and_says_so():
    value, converted = main("holladay-1")
    assert converted
    assert value == pytest.approx(1.44992, abs=1e-5)


def test_haigis_never_runs_on_a_converted_constant():
    assert main("haigis") is None
    assert main("haigis", constants={"a0": 1.1}) == (1.1, False)


def test_haigis_takes_the_models_further_constants():
    found = constants_for(
        model=model({"a0": -0.8, "a1": 0.25, "a2": 0.19}),
        formula_key="haigis",
        placement=Placement.BAG,
        knowledge=KNOWLEDGE,
    )
    assert (found.constants.a1, found.constants.a2) == (0.25, 0.19)


@pytest.mark.parametrize("key", ["srk-t", "t2", "holladay-1", "hoffer-q", "haigis"])
def test_the_sulcus_lies_half_a_millimetre_forward_in_every_formula(key):
    """5.20 against 4.70 mm (sulcus_table)."""
    eye = Biometry(23.5, 44.0, 3.1)
    bag, sulcus = (
        constants_for(model=model({"a0": 1.1}), formula_key=key, placement=place, knowledge=KNOWLEDGE).constants
        for place in (Placement.BAG, Placement.SULCUS)
    )
    moved = FORMULAS[key].lens_position_mm(eye, bag) - FORMULAS[key].lens_position_mm(eye, sulcus)
    assert float(moved) == pytest.approx(0.5, abs=1e-9)


def test_a_place_the_model_is_not_made_for_is_refused_by_name():
    with pytest.raises(ImpossibleInputError, match="Three-piece C is not made for the chamber"):
        main("srk-t", Placement.CHAMBER)


def test_a_model_listed_for_bag_and_chamber_keeps_its_constant_for_the_bag():
    both = model(places=(Placement.BAG, Placement.CHAMBER))
    assert can_sit(model=both, placement=Placement.BAG)
    assert not can_sit(model=both, placement=Placement.CHAMBER)
    with pytest.raises(ImpossibleInputError, match="list the model twice"):
        constants_for(model=both, formula_key="srk-t", placement=Placement.CHAMBER, knowledge=KNOWLEDGE)


def test_a_chamber_model_is_planned_by_its_own_constant():
    assert main("srk-t", Placement.CHAMBER, places=(Placement.CHAMBER,), a_constant=115.0) == (115.0, False)


def test_more_results_make_a_constant_surer_and_none_leaves_the_label():
    sds = constant_sd(formula_key="srk-t", results_n=[0, 5, 50, 500], knowledge=KNOWLEDGE)
    assert np.all(np.diff(sds) < 0)
    assert sds[0] == pytest.approx(0.3)
    assert sds[3] == pytest.approx(1 / np.sqrt(500), rel=0.02)


def test_a_negative_count_of_results_is_refused():
    with pytest.raises(ImpossibleInputError, match="negative number of results"):
        constant_sd(formula_key="srk-t", results_n=-1, knowledge=KNOWLEDGE)
