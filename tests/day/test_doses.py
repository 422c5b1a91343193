"""Largest doses: by weight, capped, in a mixture, and never without source and caution."""

import pytest

from sideport.day.doses import doses_for, largest_dose_mg, mixture_share
from sideport.eye.person import Person
from sideport.knowledge import Basis, load_published

KNOWLEDGE = load_published()


@pytest.mark.parametrize(
    ("drug", "weight", "mg"),
    [
        ("lidocaine", 40, 120), ("lidocaine", 60, 180), ("lidocaine", 67, 200), ("lidocaine", 90, 200),
        ("lidocaine_adrenaline", 50, 350), ("lidocaine_adrenaline", 80, 500), ("bupivacaine", 40, 80),
        ("bupivacaine", 90, 150),
    ],
)  # fmt: skip
def test_by_weight_and_never_over_the_cap(drug, weight, mg):
    """3, 7 and 2 mg/kg, no more than 200, 500 and 150 mg (national formularies, from memory)."""
    assert largest_dose_mg(drug=drug, weight_kg=weight, knowledge=KNOWLEDGE) == mg


@pytest.mark.parametrize(("weight", "ml"), [(40, 6.0), (50, 7.5), (60, 9.0)])
def test_millilitres_of_the_two_per_cent(weight, ml):
    """20 mg/mL: worked by hand."""
    line = next(line for line in doses_for(person=Person("1", "A", (), weight_kg=weight), knowledge=KNOWLEDGE)
                if line.drug == "Lidocaine 2 %")  # fmt: skip
    assert line.maximum_ml == pytest.approx(ml)


def test_without_a_weight_there_is_no_largest_dose():
    lines = doses_for(person=Person("1", "A", ()), knowledge=KNOWLEDGE)
    by_weight = [line for line in lines if "mg/kg" in line.rule]
    assert len(by_weight) == 3
    assert all(line.maximum_mg is None and "weigh first" in line.rule for line in by_weight)


def test_a_mixture_adds_its_shares():
    """Half of one maximum and half of the other fill it: 50 kg, 3.75 mL of 2 % and 10 mL of 0.5 %."""
    volumes = {"lidocaine": 3.75, "bupivacaine": 10.0}
    assert mixture_share(millilitres=volumes, weight_kg=50, knowledge=KNOWLEDGE) == pytest.approx(1.0)
    assert mixture_share(millilitres={"lidocaine": 9.0}, weight_kg=50, knowledge=KNOWLEDGE) > 1


def test_every_line_is_sourced_and_cautioned():
    for line in doses_for(person=Person("1", "A", (), weight_kg=50), knowledge=KNOWLEDGE):
        assert KNOWLEDGE.source(line.source)
        assert "not an order" in line.caution
        assert line.basis is not Basis.PUBLISHED or line.source == "haripriya2017"
