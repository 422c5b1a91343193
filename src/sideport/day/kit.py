"""What to lay out for an eye and for the list."""

from collections.abc import Iterable

from ..eye.person import Cataract, EyeRecord, Pupil
from ..knowledge import Knowledge
from ..lens.choice import LensChoice
from ..risk.advice import RiskEstimate
from ..wound.technique import Technique
from .plan import KitItem

__all__ = ["CHAMBER_LENS", "kit_for_eye", "kit_for_list"]

CHAMBER_LENS = "Chamber lens"

EVERY_CASE = {
    "Povidone-iodine 5 %": ("povidone_iodine", "asepsis"),
    "Hydroxypropyl methylcellulose 2 %": ("hypromellose", "keeps the chamber"),
    "Irrigating fluid": ("irrigating_fluid", "cortex and washing out"),
    "Antibiotic dose": ("antibiotic_dose", "lowers the risk of endophthalmitis"),
    "Local anaesthetic block": ("block", "before theatre"),
}

WOUND_SETS = {
    Technique.MSICS: "Tunnel set (crescent knife, keratome, side-port blade, two hooks)",
    Technique.PHACO: "Phacoemulsification set",
    Technique.ECCE: "Extracapsular set with 10-0 suture",
    Technique.ICCE: "Intracapsular set with 8-0 and 10-0 suture",
}


def kit_for_eye(
    *,
    record: EyeRecord,
    technique: Technique,
    risk: RiskEstimate,
    lens: LensChoice | None,
    backup: LensChoice | None,
    knowledge: Knowledge,
) -> tuple[KitItem, ...]:
    """Everything to lay out for one eye, certain things first, then what is kept closed beside the case.

    Parameters
    ----------
    record : EyeRecord
        Findings that call for extra kit.
    technique : Technique
        Any but ``REFER``.
    risk : RiskEstimate
        For the planned operator; its probability of a tear opens the reserve.
    lens, backup : LensChoice or None
        As given from the shelf.
    knowledge : Knowledge
        Holds ``kit.toml``.

    Returns
    -------
    tuple of KitItem
    """
    items = [KitItem(WOUND_SETS[technique], 1, "set", technique.value, contingency=False)]
    for name, (key, why) in EVERY_CASE.items():
        number = knowledge.number(f"kit.every.{key}")
        items.append(KitItem(name, number.value, number.unit, why, contingency=False))
    if record.cataract is not None and record.cataract.dense:
        dye = knowledge.number("kit.dense.trypan_blue")
        items.append(KitItem("Trypan blue 0.06 %", dye.value, dye.unit, "no red reflex", contingency=False))
    if lens is not None:
        items.append(KitItem(f"Lens {lens.model}", 1, "piece", "for the BAG", contingency=False))
    if backup is not None:
        items.append(KitItem(f"Lens {backup.model}", 1, "piece", "for the SULCUS, kept closed", contingency=True))
    items.extend(contingencies(record, risk, knowledge))
    return tuple(items)


def contingencies(record: EyeRecord, risk: RiskEstimate, knowledge: Knowledge) -> Iterable[KitItem]:
    """What may be needed, each with its trigger."""
    if record.fibrosed_capsule:
        yield KitItem("Capsule scissors", 1, "piece", "fibrous band: cut at its base, do not pull", contingency=True)
    if record.pupil is Pupil.SMALL:
        yield KitItem("Iris hooks", 1, "set", "small pupil", contingency=True)
    if record.phacodonesis or record.pseudoexfoliation or record.cataract is Cataract.HYPERMATURE:
        yield KitItem("Capsular tension ring", 1, "piece", "the zonule may be weak", contingency=True)
    if record.cataract in {Cataract.INTUMESCENT, Cataract.HYPERMATURE}:
        yield KitItem("Bent 26-gauge needle and two-way cannula", 1, "set", "let fluid cortex out", contingency=True)
    if risk.probability >= knowledge.value("kit.tear.reserve_threshold"):
        why = f"a tear has a chance of {100 * risk.probability:.0f} in 100 here"
        yield KitItem("Vitrectomy set", 1, "set", why, contingency=True)


def kit_for_list(eyes: Iterable[tuple[KitItem, ...]]) -> tuple[KitItem, ...]:
    """The sum over the list, with one vitrectomy set and the chamber lenses standing by for all.

    Parameters
    ----------
    eyes : iterable of tuple of KitItem
        The kit of each eye on the list.

    Returns
    -------
    tuple of KitItem
        Certain things first, each name once.
    """
    totals: dict[tuple[bool, str, str], float] = {}
    reasons: dict[tuple[bool, str, str], set[str]] = {}
    for kit in eyes:
        for item in kit:
            key = (item.contingency, item.name, item.unit)
            totals[key] = totals.get(key, 0.0) + item.quantity
            reasons.setdefault(key, set()).add(item.why)
    standing_by = (
        KitItem("Vitrectomy set", 1, "set", "stands by for the whole list", contingency=True),
        KitItem(CHAMBER_LENS, 1, "set", "the chamber lenses on the shelf stand by; none is promised to an eye", True),
    )
    known = {name for _, name, _ in totals}
    summed = [
        KitItem(name, total, unit, common_reason(reasons[contingency, name, unit]), contingency)
        for (contingency, name, unit), total in totals.items()
    ]
    summed += [item for item in standing_by if item.name not in known]
    return tuple(sorted(summed, key=lambda item: item.contingency))


def common_reason(reasons: set[str]) -> str:
    """The one reason all eyes share, or a word that they differ."""
    return next(iter(reasons)) if len(reasons) == 1 else "see each eye's page"
