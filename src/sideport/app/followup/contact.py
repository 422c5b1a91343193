"""In which order to call those who did not come, so that a morning on the telephone brings back most.

The order is our judgement, not a published score. A try is worth the chance that it brings the patient times what
seeing the eye is worth. Only the first factor of the chance is published: of those who did not come unasked, how many
were seen once they were looked for. How far away people live is not known to the record, so it does not count.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import prod

from ...errors import ImpossibleInputError
from ...knowledge import Effect, Knowledge, Reason

__all__ = ["Absent", "Call", "call_of"]


@dataclass(frozen=True, slots=True)
class Absent:
    """What is known of somebody who did not come."""

    late_d: int
    """Days since the visit closed; 0 while it is open."""
    tries: int
    """Since the visit opened, without success."""
    has_phone: bool
    only_eye: bool
    """The operated eye is the only one that sees."""
    complication: bool
    """In theatre or at a visit."""
    not_good: bool
    """The last acuity after the operation was not good."""


@dataclass(frozen=True, slots=True)
class Call:
    """What calling somebody is worth."""

    value: float
    """Chance times worth; the list is in this order, largest first."""
    chance: float
    """That a try brings the patient."""
    reasons: tuple[Reason, ...]
    """Each with the factor by which it moved the value."""


def call_of(*, absent: Absent, knowledge: Knowledge) -> Call:
    """What a try is worth.

    Parameters
    ----------
    absent : Absent
        What is known of the patient.
    knowledge : Knowledge
        Holds ``followup.contact``.

    Returns
    -------
    Call

    Raises
    ------
    ImpossibleInputError
        When days or tries are negative.

    Notes
    -----
    ``value = q f_phone f_try**tries 2**(-late / half_life) * worth``, with ``q = (traced - unprompted) / (1 -
    unprompted)`` and ``worth`` the product of the factors for an only eye, a complication and an acuity that was not
    good.

    References
    ----------
    congdon2013, abstract, for ``traced`` and ``unprompted``; the factors are judgement.
    """
    if absent.late_d < 0 or absent.tries < 0:
        raise ImpossibleInputError("Days late and tries are counted from 0; mend the dates of the visits.")
    unprompted = knowledge.value("followup.contact.unprompted")
    base = (knowledge.value("followup.contact.traced") - unprompted) / (1 - unprompted)
    reachable = tuple(chance_reasons(absent, knowledge))
    worthwhile = tuple(worth_reasons(absent, knowledge))
    chance = base * prod(reason.weight or 1.0 for reason in reachable)
    worth = prod(reason.weight or 1.0 for reason in worthwhile)
    return Call(chance * worth, chance, worthwhile + reachable)


def worth_reasons(absent: Absent, knowledge: Knowledge) -> Iterator[Reason]:
    """Why seeing this eye matters more."""
    for holds, key, words in (
        (absent.only_eye, "only_eye", "Only seeing eye."),
        (absent.complication, "complication", "A complication is recorded."),
        (absent.not_good, "not_good", "The last acuity was not good."),
    ):
        if holds:
            yield reason_of(knowledge, key, words, Effect.FOR)


def chance_reasons(absent: Absent, knowledge: Knowledge) -> Iterator[Reason]:
    """Why a try is less likely to bring the patient."""
    if not absent.has_phone:
        yield reason_of(knowledge, "without_phone", "No telephone: somebody must go.", Effect.AGAINST)
    if absent.tries:
        words = "1 try did not help." if absent.tries == 1 else f"{absent.tries} tries did not help."
        yield reason_of(knowledge, "after_try", words, Effect.AGAINST, power=absent.tries)
    if absent.late_d:
        half_lives = absent.late_d / knowledge.value("followup.contact.half_life")
        number = knowledge.number("followup.contact.half_life")
        days = "1 day" if absent.late_d == 1 else f"{absent.late_d} days"
        yield Reason(f"{days} late.", Effect.AGAINST, number.source, number.basis, 2.0**-half_lives)


def reason_of(knowledge: Knowledge, key: str, words: str, effect: Effect, power: int = 1) -> Reason:
    """A factor as a reason."""
    number = knowledge.number(f"followup.contact.{key}")
    return Reason(words, effect, number.source, number.basis, number.value**power)
