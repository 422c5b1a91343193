"""Drug doses with the largest one for the weight: shown with source and caution, never filled in as an order."""

from ..eye.person import Person
from ..knowledge import Basis, Knowledge
from .plan import DoseLine

__all__ = ["CAUTION", "doses_for", "largest_dose_mg", "mixture_share"]

CAUTION = (
    "Decision support, not an order. Check the drug, its strength, the weight and the local formulary with a second "
    "person; aspirate before injecting."
)
MIXTURE = "In a mixture add each drug's share of its own maximum; together they must stay under the whole."
AGENTS = {
    "lidocaine": ("Lidocaine 2 %", "block"),
    "lidocaine_adrenaline": ("Lidocaine 2 % with adrenaline", "block"),
    "bupivacaine": ("Bupivacaine 0.5 %", "block, often mixed with lidocaine"),
}


def largest_dose_mg(*, drug: str, weight_kg: float | None, knowledge: Knowledge) -> float | None:
    """The largest dose of a local anaesthetic for a weight.

    Parameters
    ----------
    drug : str
        ``lidocaine``, ``lidocaine_adrenaline`` or ``bupivacaine``.
    weight_kg : float or None
        Body weight [kg].
    knowledge : Knowledge
        Holds ``doses.toml`` (from memory).

    Returns
    -------
    float or None
        The smaller of the dose by weight and the largest for any weight [mg]; ``None`` without a weight.

    Examples
    --------
    >>> from sideport.knowledge import load_published
    >>> largest_dose_mg(drug="lidocaine", weight_kg=50, knowledge=load_published())
    150.0
    """
    if weight_kg is None:
        return None
    return min(weight_kg * knowledge.value(f"doses.{drug}.per_kg"), knowledge.value(f"doses.{drug}.largest"))


def mixture_share(*, millilitres: dict[str, float], weight_kg: float, knowledge: Knowledge) -> float:
    """How much of the largest dose a mixture uses up: the sum of each drug's share of its own maximum.

    Parameters
    ----------
    millilitres : dict of str to float
        Volume of each drug at its strength in ``doses.toml`` [mL].
    weight_kg : float
        Body weight [kg].
    knowledge : Knowledge

    Returns
    -------
    float
        Above 1 when the mixture is too much.

    Examples
    --------
    >>> from sideport.knowledge import load_published
    >>> volumes = {"lidocaine": 3.75, "bupivacaine": 10.0}
    >>> mixture_share(millilitres=volumes, weight_kg=50, knowledge=load_published())
    1.0
    """
    share = 0.0
    for drug, volume in millilitres.items():
        largest = largest_dose_mg(drug=drug, weight_kg=weight_kg, knowledge=knowledge)
        assert largest is not None
        share += volume * knowledge.value(f"doses.{drug}.strength") / largest
    return share


def doses_for(*, person: Person, knowledge: Knowledge) -> tuple[DoseLine, ...]:
    """The drugs of an operation under local anaesthesia, with their largest doses for this person.

    Parameters
    ----------
    person : Person
        Weight; without one the largest dose is not given.
    knowledge : Knowledge
        Holds ``doses.toml``.

    Returns
    -------
    tuple of DoseLine
    """
    value = knowledge.value
    low, high, sub_low, sub_high = (
        value(f"doses.block.{key}") for key in ("peribulbar_low", "peribulbar_high", "sub_tenon_low", "sub_tenon_high")
    )
    usual = f"{low:g} to {high:g} mL in all beside the eye, {sub_low:g} to {sub_high:g} mL under Tenon's capsule"
    lines = []
    for key, (name, use) in AGENTS.items():
        per_kg, largest = knowledge.number(f"doses.{key}.per_kg"), value(f"doses.{key}.largest")
        strength = value(f"doses.{key}.strength")
        maximum = largest_dose_mg(drug=key, weight_kg=person.weight_kg, knowledge=knowledge)
        weight = "weight not recorded: weigh first" if person.weight_kg is None else f"{person.weight_kg:g} kg"
        lines.append(
            DoseLine(
                drug=name,
                use=use,
                usual=usual,
                maximum_mg=maximum,
                maximum_ml=None if maximum is None else maximum / strength,
                strength=f"{strength:g} mg/mL",
                rule=f"{per_kg.value:g} mg/kg, no more than {largest:g} mg ({weight}). {MIXTURE}",
                source=per_kg.source,
                basis=per_kg.basis,
                caution=CAUTION,
            )
        )
    return (*lines, *fixed_doses(knowledge))


def fixed_doses(knowledge: Knowledge) -> tuple[DoseLine, ...]:
    """What does not go by weight: hyaluronidase and the antibiotic into the chamber."""
    units = knowledge.number("doses.block.hyaluronidase")
    rows: list[tuple[str, str, str, float | None, str, str, Basis]] = [
        ("Hyaluronidase", "with the block", f"{units.value:g} IU", None, "", units.source, units.basis)
    ]
    for name, key in (("Moxifloxacin", "moxifloxacin_mg"), ("Cefuroxime", "cefuroxime_mg")):
        dose = knowledge.number(f"doses.intracameral.{key}")
        strength = f"{dose.value:g} mg in 0.1 mL"
        rows.append(
            (name, "into the chamber, one or the other", strength, dose.value, strength, dose.source, dose.basis)
        )
    return tuple(
        DoseLine(name, use, usual, maximum, None, strength, "one dose, whatever the weight", source, basis, CAUTION)
        for name, use, usual, maximum, strength, source, basis in rows
    )
