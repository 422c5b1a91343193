"""What to have on the trolley because of what may happen in this eye, each with its trigger and its chance."""

from collections.abc import Iterator

from ..eye.person import Cataract, EyeRecord, Person, Pupil
from ..knowledge import Basis, Knowledge, Number
from ..wound.technique import Technique
from .advice import RiskEstimate, TrolleyItem
from .findings import is_dense

__all__ = [
    "CHAMBER_LENS", "DYE", "HOOKS", "NEEDLE", "RING", "SCISSORS", "SULCUS_LENS", "SUTURE", "VITRECTOR", "trolley_for",
]  # fmt: skip

DYE = "Trypan blue 0.06 %"
HOOKS = "Iris hooks"
RING = "Capsular tension ring"
SCISSORS = "Capsule scissors"
NEEDLE = "Bent 26-gauge needle and two-way cannula"
VITRECTOR = "Vitrectomy set"
SULCUS_LENS = "Sulcus lens"
CHAMBER_LENS = "Chamber lens"
SUTURE = "10-0 suture"

WHITE_MILK = (Cataract.INTUMESCENT, Cataract.HYPERMATURE)
SUTURED = (Technique.ECCE, Technique.ICCE)


def trolley_for(
    *, person: Person, record: EyeRecord, technique: Technique, risk: RiskEstimate, knowledge: Knowledge
) -> tuple[TrolleyItem, ...]:
    """Everything that may be called for in one eye, most likely first.

    Parameters
    ----------
    person : Person
        For the alpha-blocker.
    record : EyeRecord
        What is not recorded calls for nothing.
    technique : Technique
        Sutured wounds have their sutures in the set already.
    risk : RiskEstimate
        For the planned operator.
    knowledge : Knowledge
        Holds ``trolley.toml`` and ``kit.tear.reserve_threshold``.

    Returns
    -------
    tuple of TrolleyItem
        ``opened`` things are laid out open; the rest is kept closed beside the case.

    Notes
    -----
    What follows a tear has the probability of a tear times its published or usual share after one. Two triggers of one
    thing are taken as independent: ``1 - (1 - a)(1 - b)``.
    """
    if technique is Technique.REFER:
        return ()
    items = [*for_the_view(record, knowledge), *for_the_iris(person, record, knowledge)]
    items += [*for_the_capsule(record, knowledge), *after_a_tear(record, risk, knowledge)]
    if technique not in SUTURED:
        items.append(one(SUTURE, "the wound leaks", [knowledge.number("trolley.suture.leak")], opened=False))
    return tuple(sorted(items, key=lambda item: -item.probability))


def for_the_view(record: EyeRecord, knowledge: Knowledge) -> Iterator[TrolleyItem]:
    """Dye, where the capsule cannot be seen."""
    triggers = {
        "no red reflex": is_dense(record, knowledge),
        "scarred cornea": record.corneal_scar,
        "fibrosed capsule": record.fibrosed_capsule,
    }
    present = [words for words, holds in triggers.items() if holds]
    if present:
        yield TrolleyItem(DYE, ", ".join(present), 1.0, True, "practice", Basis.COMMON_PRACTICE)


def for_the_iris(person: Person, record: EyeRecord, knowledge: Knowledge) -> Iterator[TrolleyItem]:
    """Hooks, where the pupil is or may become small."""
    triggers = {
        "small pupil": ("small_pupil", record.pupil is Pupil.SMALL),
        "alpha-blocker: the iris may billow": ("alpha_blocker", bool(person.alpha_blocker)),
    }
    present = {words: key for words, (key, holds) in triggers.items() if holds}
    if present:
        numbers = [knowledge.number(f"trolley.hooks.{key}") for key in present.values()]
        yield one(HOOKS, ", ".join(present), numbers, opened=record.pupil is Pupil.SMALL)


def for_the_capsule(record: EyeRecord, knowledge: Knowledge) -> Iterator[TrolleyItem]:
    """Scissors, needle and ring."""
    number = knowledge.number
    if record.fibrosed_capsule:
        trigger = "fibrosed capsule: cut the band at its base, through a side port widened to 2.8 mm; do not pull"
        yield one(SCISSORS, trigger, [number("trolley.scissors.fibrosed_capsule")], opened=True)
    if record.cataract in WHITE_MILK:
        trigger = "fluid cortex under pressure: let it out before the opening is made"
        yield one(NEEDLE, trigger, [number(f"trolley.needle.{record.cataract.value}")], opened=True)
    triggers = {
        "lens trembles": ("phacodonesis", record.phacodonesis),
        "pseudoexfoliation": ("pseudoexfoliation", record.pseudoexfoliation),
        "hypermature, loose bag": ("hypermature", record.cataract is Cataract.HYPERMATURE),
    }
    present = {words: key for words, (key, holds) in triggers.items() if holds}
    if present:
        numbers = [number(f"trolley.ring.{key}") for key in present.values()]
        yield one(RING, f"the zonule may be weak: {', '.join(present)}", numbers, opened=False)


def after_a_tear(record: EyeRecord, risk: RiskEstimate, knowledge: Knowledge) -> Iterator[TrolleyItem]:
    """Vitrector, sulcus lens and chamber lens."""
    tear = risk.probability
    said = f"a tear has a chance of {100 * tear:.1f} in 100 here"
    opened = tear >= knowledge.value("kit.tear.reserve_threshold")
    for name, key, trigger in (
        (VITRECTOR, "vitrector", said),
        (SULCUS_LENS, "sulcus_lens", f"{said} and the rim may still hold a lens"),
    ):
        share = knowledge.number(f"trolley.{key}.after_tear")
        yield TrolleyItem(name, trigger, tear * share.value, opened and name == VITRECTOR, share.source, share.basis)
    share = knowledge.number("trolley.chamber_lens.after_tear")
    chance, trigger = tear * share.value, "neither bag nor sulcus holds after a tear"
    source, basis = share.source, share.basis
    if record.cataract is Cataract.HYPERMATURE:
        whole = knowledge.number("trolley.chamber_lens.hypermature")
        chance, source, basis = 1 - (1 - chance) * (1 - whole.value), whole.source, whole.basis
        trigger = "the whole bag may come out of a hypermature lens, or neither bag nor sulcus hold after a tear"
    yield TrolleyItem(CHAMBER_LENS, trigger, chance, False, source, basis)


def one(name: str, trigger: str, numbers: list[Number], *, opened: bool) -> TrolleyItem:
    """A thing with one or more independent triggers; the weightiest lends its source."""
    spared = 1.0
    for number in numbers:
        spared *= 1 - number.value
    first = max(numbers, key=lambda number: number.value)
    return TrolleyItem(name, trigger, 1 - spared, opened, first.source, first.basis)
