"""Who is on the table: choices to tap from, and names that are easily taken for each other."""

from dataclasses import dataclass
from difflib import SequenceMatcher

from ...day.plan import DayPlan, EyePlan
from ...present.words import SIDE_WORDS, person_words

__all__ = ["Choice", "mismatch_words", "name_choices", "number_choices", "other_eye", "similar"]

OFFERED = 4
ALIKE = 0.75
"""Share of letters in common, in their order, from which two names are flagged; chosen to flag too many."""
SHORTEST_WORD = 3


@dataclass(frozen=True, slots=True)
class Choice:
    """One person to tap."""

    person_id: str
    label: str


def alike(one: str, other: str) -> bool:
    """Whether two names are easily taken for each other: nearly the same letters, or a word in common."""
    first, second = one.casefold(), other.casefold()
    shared = {word for word in first.split() if len(word) >= SHORTEST_WORD} & set(second.split())
    return bool(shared) or SequenceMatcher(None, first, second, autojunk=False).ratio() >= ALIKE


def others(plan: DayPlan, eye: EyePlan) -> list[EyePlan]:
    """One eye of every other person of the day, in the order of the list."""
    return list({each.person_id: each for each in plan.eyes if each.person_id != eye.person_id}.values())


def similar(plan: DayPlan, eye: EyePlan) -> tuple[EyePlan, ...]:
    """Other people of the day with a name like this one's."""
    return tuple(each for each in others(plan, eye) if alike(each.name, eye.name))


def other_eye(plan: DayPlan, eye: EyePlan) -> EyePlan | None:
    """The same person's fellow eye, where it is on the list too."""
    fellow = (each for each in plan.eyes if each.person_id == eye.person_id and each.side is eye.side.other)
    return next((each for each in fellow if each.slot is not None), None)


def offered(plan: DayPlan, eye: EyePlan) -> list[EyePlan]:
    """This person among a few others: first those with a similar name, then whoever is near on the list."""
    keys = [each.key for each in plan.eyes]
    near = sorted(others(plan, eye), key=lambda each: abs(keys.index(each.key) - keys.index(eye.key)))
    ranked = sorted(near, key=lambda each: not alike(each.name, eye.name))
    return [eye, *ranked[: OFFERED - 1]]


def name_choices(plan: DayPlan, eye: EyePlan) -> tuple[Choice, ...]:
    """Names to tap from; their order says nothing about which is right."""
    people = sorted(offered(plan, eye), key=lambda each: (each.name, each.person_id))
    return tuple(Choice(each.person_id, f"{each.name}, {person_words(each)}") for each in people)


def number_choices(plan: DayPlan, eye: EyePlan) -> tuple[Choice, ...]:
    """Register numbers to tap from."""
    return tuple(Choice(number, number) for number in sorted(each.person_id for each in offered(plan, eye)))


def mismatch_words(plan: DayPlan, eye: EyePlan, *, person_id: str, side: str) -> tuple[str, ...]:
    """What does not agree between what was tapped and the eye that is open; empty when all does."""
    said = []
    if person_id != eye.person_id:
        tapped = next((each for each in plan.eyes if each.person_id == person_id), None)
        name = f"{tapped.name}, number {tapped.person_id}" if tapped else f"number {person_id}"
        said.append(f"You tapped {name}. The eye opened here belongs to {eye.name}, number {eye.person_id}.")
    if side != eye.side.value:
        wrong, right = SIDE_WORDS[eye.side.other], SIDE_WORDS[eye.side]
        said.append(f"You tapped the {wrong} eye. The plan is for the {right} eye.")
    return tuple(said)
