"""Kit at its chance, what is short, and who pays."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sideport.day.cost import contingency_cost, money_of_day, money_of_eye
from sideport.day.kit import kit_for_list, ready_count
from sideport.day.plan import EyeMoney, KitItem
from sideport.knowledge import Basis, load_published
from sideport.risk.advice import TrolleyItem
from sideport.wound.technique import Technique

KNOWLEDGE = load_published()
HOOKS = KitItem("Iris hooks", 1, "set", "small pupil", contingency=True, probability=0.5)
FLUID = KitItem("Irrigating fluid", 100, "mL", "cortex", contingency=False)
SET = KitItem("Tunnel set", 1, "set", "", contingency=False)
PRICES = {"irrigating fluid": 0.5, "Iris hooks": 200.0, "Tunnel set": 70.0}
FEES = {"manual small-incision": 900.0, "phacoemulsification": 3000.0}


def money(**changed):
    asked = {
        "kit": (FLUID, SET, HOOKS), "lens": None, "folding": False, "technique": Technique.MSICS,
        "alternative": Technique.PHACO, "alternative_kit": (FLUID, HOOKS), "share": 1.0, "prices": PRICES, "fees": FEES,
        "folding_surcharge": 300.0,
    }  # fmt: skip
    return money_of_eye(**{**asked, **changed})


@given(st.lists(st.floats(0, 1), max_size=9), st.floats(0.5, 0.999))
def test_ready_count_by_brute_force(chances, coverage):
    """The smallest count that is enough on the covered share of days, over every combination of uses."""
    found = ready_count(chances=chances, coverage=coverage)

    def covered(count):
        total = 0.0
        for uses in product((0, 1), repeat=len(chances)):
            if sum(uses) <= count:
                weight = 1.0
                for used, chance in zip(uses, chances, strict=True):
                    weight *= chance if used else 1 - chance
                total += weight
        return total

    assert covered(found) >= coverage - 1e-9
    assert found == 1 or covered(found - 1) < coverage + 1e-9


def test_contingencies_count_at_their_chance():
    """Eight eyes at one half: four are expected, six cover 19 days in 20 (binomial, 0.965 for up to 6)."""
    kit = kit_for_list([(HOOKS,)] * 8, knowledge=KNOWLEDGE)
    hooks = next(item for item in kit if item.name == "Iris hooks")
    assert hooks.expected_use == pytest.approx(4)
    assert hooks.quantity == 6


def test_what_stands_by_has_the_sum_of_the_chances():
    tear = TrolleyItem("Vitrectomy set", "tear", 0.02, False, "practice", Basis.COMMON_PRACTICE)
    kit = kit_for_list([(FLUID,)] * 30, trolleys=[(tear,)] * 30, knowledge=KNOWLEDGE)
    vitrector = next(item for item in kit if item.name == "Vitrectomy set")
    assert vitrector.expected_use == pytest.approx(0.6)
    assert vitrector.quantity == 2


def test_short_of_stock():
    """What is not counted is not called short; what is, whatever its case, is compared with what is needed."""
    kit = kit_for_list([(FLUID, SET)] * 3, stock={"IRRIGATING fluid": 250.0}, knowledge=KNOWLEDGE)
    by = {item.name: item for item in kit}
    assert (by["Irrigating fluid"].in_stock, by["Irrigating fluid"].short) == (250.0, 50.0)
    assert (by["Tunnel set"].in_stock, by["Tunnel set"].short) == (None, 0.0)


def test_contingencies_cost_at_their_chance():
    assert contingency_cost(kit=(FLUID, HOOKS), prices=PRICES) == pytest.approx(100.0)
    assert contingency_cost(kit=(HOOKS,), prices={}) == 0


def test_who_pays():
    """Cost 120, contingency 100: the full fee of 900 leaves the unit 680 up, half 230, a free patient 220 down."""
    full, half, free = (money(share=share) for share in (1.0, 0.5, 0.0))
    assert (full.cost, full.contingency_cost) == (120.0, 100.0)
    assert [one.pays for one in (full, half, free)] == [900.0, 450.0, 0.0]
    assert [one.subsidy for one in (full, half, free)] == [-680.0, -230.0, 220.0]


def test_a_folding_lens_adds_its_surcharge():
    assert money(folding=True).fee == 1200.0
    assert money(folding=True, share=0.5).pays == 600.0


def test_the_alternative_has_its_price():
    found = money()
    assert (found.alternative, found.alternative_cost, found.alternative_pays) == (Technique.PHACO, 50.0, 3000.0)
    assert money(alternative=Technique.REFER).alternative is None
    assert money(alternative=None).alternative_cost is None


def test_without_a_tariff_nobody_is_charged_and_a_free_patient_is_free():
    assert money(fees={}).pays is None
    assert money(fees={}).subsidy is None
    assert money(fees={}, share=0.0).pays == 0


def test_missing_prices_are_named():
    assert money(prices={"Tunnel set": 70}).unpriced == ("Irrigating fluid",)
    assert money(prices={}).alternative_unpriced == ("Irrigating fluid",)


def test_the_day_adds_up():
    eyes = [money(), money(share=0.0), money(fees={})]
    day = money_of_day(eyes)
    assert day.cost == sum(eye.cost for eye in eyes)
    assert day.per_case == pytest.approx((day.cost + day.contingency_cost) / 3)
    assert (day.pays, day.subsidy, day.without_tariff) == (900.0, -680.0 + 220.0, 1)
    assert money_of_day([]).per_case is None
    assert isinstance(eyes[0], EyeMoney)
