"""Before the knife: what stops a case, what warns, and what nobody has written down yet."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from ..eye.person import EyeRecord, Person
from ..knowledge import Basis, Knowledge, Number
from ..optics.acuity import AcuityKind
from .plan import ReadinessItem, ReadyState

__all__ = ["LIMITS", "readiness_for"]

LIMITS = (
    "systolic_stop", "diastolic_stop", "systolic_warn", "diastolic_warn", "sugar_stop", "sugar_warn", "sugar_low",
    "eye_pressure_stop", "eye_pressure_warn", "inr_warn",
)  # fmt: skip
"""Keys of the thresholds in ``readiness.toml`` that a unit may set for itself."""

WORST_FIRST = tuple(ReadyState)
PRACTICE = ("practice", Basis.COMMON_PRACTICE)


@dataclass(frozen=True, slots=True)
class Desk:
    """One eye on the desk: the record, and the unit's thresholds."""

    person: Person
    record: EyeRecord
    own: Mapping[str, float]
    knowledge: Knowledge

    def limit(self, key: str) -> Number:
        """A threshold: the unit's own, or the usual one."""
        usual = self.knowledge.number(f"readiness.{key}")
        if key not in self.own:
            return usual
        return Number(usual.key, self.own[key], usual.unit, "unit", Basis.COMMON_PRACTICE)


def readiness_for(
    *, person: Person, record: EyeRecord, limits: Mapping[str, float], knowledge: Knowledge
) -> tuple[ReadinessItem, ...]:
    """The list for one eye, worst first.

    Parameters
    ----------
    person : Person
    record : EyeRecord
    limits : mapping
        The unit's own thresholds by a key of ``LIMITS``.
    knowledge : Knowledge
        Holds ``readiness.toml``.

    Returns
    -------
    tuple of ReadinessItem
        Each item once; what is missing is to do, never taken as done.

    Notes
    -----
    Projection of light and the reaction of the pupil tell the prognosis where the fundus is hidden; they warn. An eye
    recorded as without any perception of light is a stop: a clear lens will not help it.
    """
    desk = Desk(person, record, limits, knowledge)
    return tuple(sorted((step(desk) for step in STEPS), key=lambda item: WORST_FIRST.index(item.state)))


def yes_no(
    code: str, label: str, value: bool | None, *, missing: str, refused: str, wrong: ReadyState = ReadyState.STOP
) -> ReadinessItem:
    """An item that is done, refused or not yet recorded."""
    if value is None:
        return ReadinessItem(code, label, ReadyState.TO_DO, "Not recorded.", missing, *PRACTICE)
    if value:
        return ReadinessItem(code, label, ReadyState.DONE, "Done.", "", *PRACTICE)
    return ReadinessItem(code, label, wrong, "Recorded as not in order.", refused, *PRACTICE)


def identity(desk: Desk) -> ReadinessItem:
    """Two identifiers."""
    return yes_no(
        "identity", "Identity by two identifiers", desk.person.identity_checked,
        missing="Ask for name and date of birth or number, and compare with the record.",
        refused="The identifiers do not agree: do not begin.",
    )  # fmt: skip


def consent(desk: Desk) -> ReadinessItem:
    """Consent."""
    return yes_no(
        "consent", "Consent for this eye and operation", desk.person.consent,
        missing="Explain in the person's own language and have it signed or marked.",
        refused="No consent: do not begin.",
    )  # fmt: skip


def mark(desk: Desk) -> ReadinessItem:
    """The marked side."""
    side = desk.record.side.value
    return yes_no(
        "side-marked", "Side marked", desk.record.marked,
        missing=f"Mark the {side.upper()} side with the person awake, against the original record.",
        refused="The mark is missing or on the other side: stop and go back to the record.",
    )  # fmt: skip


def allergy(desk: Desk) -> ReadinessItem:
    """Known allergies."""
    found = desk.person.allergy
    return yes_no(
        "allergy", "Allergies asked for", None if found is None else not found, wrong=ReadyState.WARN,
        missing="Ask for allergies, above all to iodine, antibiotics, local anaesthetics and latex.",
        refused="An allergy is known: read the note and change what touches the person.",
    )  # fmt: skip


def blood_pressure(desk: Desk) -> ReadinessItem:
    """Blood pressure against both limits."""
    person = desk.person
    values = {"systolic": person.systolic_mmhg, "diastolic": person.diastolic_mmhg}
    code, label = "blood-pressure", "Blood pressure"
    if all(value is None for value in values.values()):
        limit = desk.limit("systolic_stop")
        return ReadinessItem(code, label, ReadyState.TO_DO, "Not recorded.", "Measure it.", limit.source, limit.basis)
    said = "/".join("?" if value is None else f"{value:g}" for value in values.values()) + " mmHg"
    rules = (
        (ReadyState.STOP, "stop", "Let the person rest, measure again, treat; put the eye off if it stays."),
        (ReadyState.WARN, "warn", "Do not delay; write to the person's own doctor."),
    )
    for state, key, action in rules:
        for name, value in values.items():
            limit = desk.limit(f"{name}_{key}")
            over = value is not None and (value > limit.value if state is ReadyState.STOP else value >= limit.value)
            if over:
                text = f"{said}: {name} {'over' if state is ReadyState.STOP else 'at or over'} {limit.value:g}."
                return ReadinessItem(
                    code, label, state, text, action, limit.source, limit.basis, value, limit.value, "mmHg"
                )
    limit = desk.limit("systolic_stop")
    return ReadinessItem(code, label, ReadyState.DONE, said + ".", "", limit.source, limit.basis)


def sugar(desk: Desk) -> ReadinessItem:
    """Blood sugar; needed only where diabetes is known or not ruled out."""
    value, code, label = desk.person.sugar_mmol_l, "blood-sugar", "Blood sugar"
    high, warn, low = (desk.limit(f"sugar_{key}") for key in ("stop", "warn", "low"))
    if value is None and desk.person.diabetic is False:
        return ReadinessItem(code, label, ReadyState.DONE, "Not diabetic: not needed.", "", *PRACTICE)
    if value is None:
        return ReadinessItem(code, label, ReadyState.TO_DO, "Not recorded.", "Measure it.", high.source, high.basis)
    for state, limit, holds, action in (
        (ReadyState.STOP, low, value < low.value, "Give sugar now, measure again."),
        (ReadyState.STOP, high, value > high.value, "Bring it down first; look for ketones if unwell."),
        (ReadyState.WARN, warn, value > warn.value, "Early on the list; measure again before theatre."),
    ):
        if holds:
            text = f"{value:.1f} mmol/L, limit {limit.value:g}."
            return ReadinessItem(
                code, label, state, text, action, limit.source, limit.basis, value, limit.value, "mmol/L"
            )
    return ReadinessItem(code, label, ReadyState.DONE, f"{value:.1f} mmol/L.", "", high.source, high.basis, value)


def eye_pressure(desk: Desk) -> ReadinessItem:
    """Pressure of the eye."""
    value, code, label = desk.record.pressure_mmhg, "eye-pressure", "Eye pressure"
    stop, warn = desk.limit("eye_pressure_stop"), desk.limit("eye_pressure_warn")
    if value is None:
        return ReadinessItem(code, label, ReadyState.TO_DO, "Not recorded.", "Measure it.", stop.source, stop.basis)
    for state, limit, action in (
        (ReadyState.STOP, stop, "Lower it first; an open eye under pressure may bleed or lose its contents."),
        (ReadyState.WARN, warn, "Ask for glaucoma; lower it before the block."),
    ):
        if value >= limit.value:
            text = f"{value:g} mmHg, at or over {limit.value:g}."
            return ReadinessItem(
                code, label, state, text, action, limit.source, limit.basis, value, limit.value, "mmHg"
            )
    return ReadinessItem(code, label, ReadyState.DONE, f"{value:g} mmHg.", "", stop.source, stop.basis, value)


def sac(desk: Desk) -> ReadinessItem:
    """Lacrimal syringing."""
    return yes_no(
        "tear-sac", "Tear sac syringed", desk.record.sac_patent,
        missing="Syringe the tear sac: an infected one seeds the eye.",
        refused="Fluid or pus comes back: treat the sac first, not today.",
    )  # fmt: skip


def lids(desk: Desk) -> ReadinessItem:
    """Lids and conjunctiva."""
    infected = desk.record.infected
    return yes_no(
        "lids", "Lids and conjunctiva clean", None if infected is None else not infected,
        missing="Look at lids, lashes and conjunctiva.", refused="Infected: treat it first, not today.",
    )  # fmt: skip


def fundus(desk: Desk) -> ReadinessItem:
    """A view of the back of the eye, or an ultrasound instead."""
    record, code, label = desk.record, "fundus", "Fundus seen, or ultrasound instead"
    if record.fundus_seen:
        return ReadinessItem(code, label, ReadyState.DONE, "Fundus seen.", "", *PRACTICE)
    if record.bscan_normal is not None:
        text = "Ultrasound normal." if record.bscan_normal else "Ultrasound shows disease behind the lens."
        action = "" if record.bscan_normal else "Tell the person what can be hoped for before the operation."
        state = ReadyState.DONE if record.bscan_normal else ReadyState.WARN
        return ReadinessItem(code, label, state, text, action, *PRACTICE)
    text = "Not recorded." if record.fundus_seen is None else "No view of the fundus and no ultrasound."
    return ReadinessItem(code, label, ReadyState.TO_DO, text, "Look again dilated, else scan the eye.", *PRACTICE)


def light(desk: Desk) -> ReadinessItem:
    """Projection of light."""
    record, code, label = desk.record, "light-projection", "Light projection in four quadrants"
    if record.acuity is not None and record.acuity.kind is AcuityKind.NO_LIGHT_PERCEPTION:
        text = "No perception of light: a clear lens will not bring sight."
        return ReadinessItem(code, label, ReadyState.STOP, text, "Test again; do not operate for sight.", *PRACTICE)
    if record.light_projection is None and record.fundus_seen:
        return ReadinessItem(code, label, ReadyState.DONE, "Fundus seen: not needed.", "", *PRACTICE)
    return yes_no(
        code, label, record.light_projection, wrong=ReadyState.WARN, missing="Test all four quadrants with a torch.",
        refused="Light is not told in every quadrant: the retina or nerve may be ill; say what can be hoped for.",
    )  # fmt: skip


def pupil(desk: Desk) -> ReadinessItem:
    """Reaction of the pupil."""
    defect = desk.record.pupil_defect
    return yes_no(
        "pupil-reaction", "Pupil reaction", None if defect is None else not defect, wrong=ReadyState.WARN,
        missing="Swing the torch before dilating.",
        refused="A relative defect: the nerve or retina may be ill; say what can be hoped for.",
    )  # fmt: skip


def clotting(desk: Desk) -> ReadinessItem:
    """Anticoagulant, with its ratio."""
    person, limit, code, label = desk.person, desk.limit("inr_warn"), "anticoagulant", "Blood thinner"
    if person.anticoagulant is None:
        return ReadinessItem(code, label, ReadyState.TO_DO, "Not recorded.", "Ask for blood thinners.", *PRACTICE)
    if not person.anticoagulant:
        return ReadinessItem(code, label, ReadyState.DONE, "None taken.", "", *PRACTICE)
    action = "Go on with the drug; block under Tenon's capsule or by drops, no sharp needle."
    over = person.inr is not None and person.inr > limit.value
    text = "Taken; clotting ratio not recorded." if person.inr is None else f"Taken; clotting ratio {person.inr:g}."
    if over:
        text += f" Over {limit.value:g}: ask who treats."
    return ReadinessItem(
        code, label, ReadyState.WARN, text, action, limit.source, limit.basis, person.inr, limit.value, "ratio"
    )


STEPS: tuple[Callable[[Desk], ReadinessItem], ...] = (
    identity, consent, mark, allergy, blood_pressure, sugar, clotting, eye_pressure, lids, sac, fundus, light, pupil,
)  # fmt: skip
