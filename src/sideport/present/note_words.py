"""The operation note in plain words, from what was recorded in theatre."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, tzinfo

from ..optics.side import Side
from ..record.theatre_said import (
    ChecklistAnswered,
    EventKind,
    LensImplanted,
    OperationEnded,
    OperationEvent,
    OperationStarted,
    OperationStep,
    Outcome,
    Purpose,
    WoundMade,
)
from . import numbers
from .words import PLACEMENT_WORDS, SIDE_WORDS, SITE_WORDS, TECHNIQUE_WORDS, clock_hour

__all__ = ["EVENT_WORDS", "OUTCOME_WORDS", "NoteFacts", "event_words", "operation_note", "wound_words"]

EVENT_WORDS: Mapping[EventKind, str] = {
    EventKind.CAPSULE_TEAR: "The capsule tore",
    EventKind.VITREOUS: "Vitreous came forward",
    EventKind.ZONULAR_DIALYSIS: "Zonules gave way",
    EventKind.NUCLEUS_DROP: "The nucleus fell back into the vitreous",
    EventKind.IRIS_PROLAPSE: "The iris came out through the wound",
    EventKind.CONVERSION: "The operation was converted",
    EventKind.WOUND_BURN: "The wound was burnt",
    EventKind.SUTURE: "The wound was sutured",
    EventKind.OTHER: "Something else happened",
}
OUTCOME_WORDS: Mapping[Outcome, str] = {
    Outcome.DONE: "done",
    Outcome.STAGED: "to be finished in a second sitting",
    Outcome.ABANDONED: "abandoned; nothing was done to the lens",
}
UNREMARKABLE = frozenset({EventKind.SUTURE})
"""Events that are no complication by themselves."""


@dataclass(frozen=True, slots=True)
class NoteFacts:
    """What a note is made from."""

    unit: str
    day: date
    name: str
    person_id: str
    who: str
    """Age and sex in words."""
    side: Side
    started: OperationStarted
    pauses: Sequence[ChecklistAnswered]
    steps: Sequence[OperationStep]
    events: Sequence[OperationEvent]
    wound: WoundMade | None
    lens: LensImplanted | None
    planned_lens: str
    """The lens that the plan named, in words; empty for none."""
    refused: Sequence[str]
    """What boxes were put aside for, in words."""
    ended: OperationEnded | None
    zone: tzinfo | None = None
    """In which times are written; ``None`` for the computer's own."""


def operation_note(facts: NoteFacts) -> str:
    """The note, as paragraphs separated by empty lines.

    Parameters
    ----------
    facts : NoteFacts
        What was recorded.

    Returns
    -------
    str
        Everything that was recorded and nothing that was not: what is missing is said to be missing.
    """
    parts = [heading(facts), operation(facts), pauses(facts), wound(facts), course(facts), lens(facts), closing(facts)]
    return "\n\n".join(part for part in parts if part)


def heading(facts: NoteFacts) -> str:
    """Who, which eye, where and when."""
    return (
        f"Operation note. {facts.unit}, {numbers.long_date(facts.day)}.\n"
        f"{facts.name}, number {facts.person_id}, {facts.who}.\n"
        f"{SIDE_WORDS[facts.side]} eye."
    )


def operation(facts: NoteFacts) -> str:
    """What was done by whom, from when to when."""
    said = facts.started
    what = "A further operation on this eye" if said.purpose is Purpose.AGAIN else "Cataract operation"
    by = f"{said.operator}, supervised by {said.supervisor}" if said.supervisor else said.operator
    begun = next((step.happened for step in facts.steps if step.step == "first cut"), None)
    cut = f"First cut at {clock(begun, facts)}." if begun else "The time of the first cut was not recorded."
    return f"{what}: {TECHNIQUE_WORDS[said.technique].lower()}. Operator: {by}. Table {said.table}. {cut}"


def pauses(facts: NoteFacts) -> str:
    """When the pauses were held, and every answer that was not a yes."""
    if not facts.pauses:
        return "No pause of the safety checklist was recorded."
    held = ", ".join(f"{each.pause.value} {clock(each.happened, facts)}" for each in facts.pauses)
    odd = [
        f"{each.pause.value}, {answer.item}: {answer.answer}{f' ({answer.note})' if answer.note else ''}"
        for each in facts.pauses
        for answer in each.answers
        if answer.answer in {"no", "does not apply"} or answer.note
    ]
    return f"Safety pauses: {held}." + (f" To note: {'; '.join(odd)}." if odd else "")


def wound(facts: NoteFacts) -> str:
    """The wound as it was made."""
    return f"Wound: {wound_words(facts.wound)}." if facts.wound else "The wound was not recorded."


def wound_words(made: WoundMade) -> str:
    """A wound in words.

    Parameters
    ----------
    made : WoundMade
        As recorded; what is ``None`` is left out.

    Returns
    -------
    str
        ``superior at 12 o'clock, 6.5 mm, frown, no suture``.
    """
    where = SITE_WORDS[made.site]
    parts = [where if made.meridian_deg is None else f"{where} at {clock_hour(made.meridian_deg)}"]
    if made.length_mm is not None:
        parts.append(f"{numbers.number(made.length_mm, 1)} mm long")
    if made.limbus_distance_mm is not None:
        parts.append(f"{numbers.number(made.limbus_distance_mm, 1)} mm behind the limbus")
    if made.shape is not None:
        parts.append(made.shape.value)
    parts.append(counted(made.sutures, "suture"))
    return ", ".join([*parts, *([made.note] if made.note else [])])


def counted(count: int, what: str) -> str:
    """A count in words."""
    return f"no {what}" if count == 0 else f"{count} {what}{'' if count == 1 else 's'}"


def course(facts: NoteFacts) -> str:
    """The steps with their times, then what happened that the plan did not ask for."""
    steps = ", ".join(f"{step.step} {clock(step.happened, facts)}" for step in facts.steps if step.step != "first cut")
    told = [f"Steps: {steps}."] if steps else []
    told += [f"{clock(event.happened, facts)}: {event_words(event)}." for event in facts.events]
    if not any(event.event not in UNREMARKABLE for event in facts.events):
        told.append("No complication was recorded.")
    return " ".join(told)


def event_words(event: OperationEvent) -> str:
    """An event in words.

    Parameters
    ----------
    event : OperationEvent
        As recorded.

    Returns
    -------
    str
        Without a full stop.
    """
    count = f", {counted(event.count, 'suture')}" if event.count is not None else ""
    detail = f": {event.detail.rstrip('.')}" if event.detail else ""
    return f"{EVENT_WORDS[event.event]}{count}{detail}"


def lens(facts: NoteFacts) -> str:
    """The lens in the eye, and every box that was stopped."""
    refused = f" Boxes put aside unopened or unused: {'; '.join(facts.refused)}." if facts.refused else ""
    if facts.lens is None:
        return f"No lens was implanted.{refused}"
    said = facts.lens
    label = [f"lot {said.lot}"] if said.lot else []
    label += [f"serial {said.serial}"] if said.serial else []
    label += [f"expires {numbers.long_date(said.expires)}"] if said.expires else []
    text = f"Lens: {numbers.power(said.power_d)} {said.model} in the {PLACEMENT_WORDS[said.placement]}"
    text += f" ({', '.join(label)})." if label else "."
    if said.as_planned:
        return f"{text} As planned.{refused}"
    text += f" Planned first was {facts.planned_lens}." if facts.planned_lens else " The plan named no lens."
    text += f" Why another: {said.deviation.rstrip('.')}." if said.deviation else ""
    text += f" Second person: {said.second_person}." if said.second_person else ""
    return text + refused


def closing(facts: NoteFacts) -> str:
    """How it ended."""
    if facts.ended is None:
        return "The end of the operation was not recorded."
    note = f" {facts.ended.note.rstrip('.')}." if facts.ended.note else ""
    return f"Ended at {clock(facts.ended.ended, facts)}: {OUTCOME_WORDS[facts.ended.outcome]}.{note}"


def clock(moment: datetime, facts: NoteFacts) -> str:
    """The time of day."""
    return moment.astimezone(facts.zone).strftime("%H:%M")
