"""What of a visit cannot be, what is asked about before it is kept, and what must be done about it."""

from collections.abc import Iterator
from datetime import date

from ...eye.result import Complication, ResultClass, presenting, result_class
from ...knowledge import Basis, Flag, Knowledge, Severity
from ...optics.acuity import Acuity
from ...record.visit_said import VisitRecorded

__all__ = ["acuity_classes", "complications_of", "impossible", "questions", "to_do"]


def impossible(*, said: VisitRecorded, operated: date, today: date, knowledge: Knowledge) -> Iterator[tuple[str, str]]:
    """Field and words for everything that cannot be so.

    Parameters
    ----------
    said : VisitRecorded
        As it would be kept.
    operated, today : date
        The operation, and the day on which the form is sent.
    knowledge : Knowledge
        Holds the schedule and the limits of the classes.
    """
    if said.day < operated:
        yield "day", f"The operation was on {operated:%d %B %Y}; a visit cannot be before it."
    if said.day > today:
        yield "day", "The day has not come yet."
    if said.cylinder_d and said.axis_deg is None:
        yield "axis_deg", "A cylinder needs its axis."
    if said.axis_deg is not None and not said.cylinder_d:
        yield "cylinder_d", "An axis needs its cylinder."
    if not found_something(said):
        yield "", "Write down at least one finding."
    settled = (said.day - operated).days >= knowledge.value("followup.schedule.week_4_to_8.opens")
    if settled and acuity_classes(said, knowledge)[0] is ResultClass.POOR and not said.cause:
        yield "cause", "The result is poor, worse than 6/60: choose the likely cause."


def found_something(said: VisitRecorded) -> bool:
    """Whether a visit says anything of the eye."""
    readings = (
        said.unaided, said.with_glasses, said.pinhole, said.corrected, said.sphere_d, said.cylinder_d, said.k1_d,
        said.k2_d, said.pressure_mmhg,
    )  # fmt: skip
    return any(reading is not None for reading in readings) or bool(said.complications or said.note.strip())


def acuity_classes(said: VisitRecorded, knowledge: Knowledge) -> tuple[ResultClass | None, ResultClass | None]:
    """The class with which the person walks about, and the best that glasses or a pinhole give."""
    walks_with = presenting(unaided=said.unaided, with_glasses=said.with_glasses)
    tested = [each for each in (said.corrected, said.pinhole, walks_with) if each is not None]
    best = min(tested, key=lambda each: each.order) if tested else None
    return result_class(acuity=walks_with, knowledge=knowledge), result_class(acuity=best, knowledge=knowledge)


def questions(*, said: VisitRecorded, knowledge: Knowledge) -> tuple[str, ...]:
    """What is unusual, in words; it is kept once somebody looked again.

    Parameters
    ----------
    said : VisitRecorded
        As it would be kept.
    knowledge : Knowledge
        Holds ``followup.usual``.
    """
    asked = []
    for helped, name in ((said.corrected, "corrected"), (said.pinhole, "through the pinhole")):
        if worse(helped, said.unaided):
            asked.append(f"The acuity {name} is worse than the unaided one. Were they swapped?")
    for value, key, name in ((said.sphere_d, "sphere", "sphere"), (said.cylinder_d, "cylinder", "cylinder")):
        limit = knowledge.value(f"followup.usual.{key}")
        if value is not None and abs(value) > limit:
            asked.append(f"A {name} of {value:+.2f} D is more than {limit:g} D. Is the decimal point in its place?")
    return tuple(asked)


def worse(one: Acuity | None, other: Acuity | None) -> bool:
    """Whether both were tested and the first is worse."""
    return one is not None and other is not None and one.worse_than(other)


def complications_of(said: VisitRecorded) -> tuple[Complication, ...]:
    """The complications that this program knows by name; others stay in the text."""
    known = {each.value for each in Complication}
    return tuple(Complication(name) for name in said.complications if name in known)


def to_do(*, said: VisitRecorded, knowledge: Knowledge) -> tuple[Flag, ...]:
    """What must be done about the findings of a visit, the most urgent first.

    Parameters
    ----------
    said : VisitRecorded
        A visit.
    knowledge : Knowledge
        Holds ``followup.usual``.
    """
    flags = [
        Flag(f"visit-{each.name.lower().replace('_', '-')}", Severity.STOP, f"Found: {each.value}.",
             "A surgeon must see this eye today.", "practice", Basis.COMMON_PRACTICE)
        for each in complications_of(said) if each.is_urgent
    ]  # fmt: skip
    high, low = knowledge.number("followup.usual.pressure"), knowledge.number("followup.usual.pressure_low")
    pressure = said.pressure_mmhg
    if pressure is not None and pressure >= high.value:
        flags.append(Flag("visit-pressure-high", Severity.WARN, f"Pressure {pressure:g} mmHg.",
                          "Measure again; tell the surgeon before the patient leaves.", high.source, high.basis,
                          pressure, high.value, "mmHg"))  # fmt: skip
    if pressure is not None and pressure < low.value:
        flags.append(Flag("visit-pressure-low", Severity.WARN, f"Pressure {pressure:g} mmHg.",
                          "Look for a leaking wound and a detached retina or choroid.", low.source, low.basis,
                          pressure, low.value, "mmHg"))  # fmt: skip
    return tuple(flags)
