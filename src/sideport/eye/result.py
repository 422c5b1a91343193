"""How an operated eye did: the class of its acuity, what went wrong where it went wrong, and the likely cause."""

from collections.abc import Collection
from dataclasses import dataclass
from enum import Enum

from ..knowledge import Basis, Effect, Knowledge, Reason
from ..optics.acuity import Acuity, logmar_from_decimal

__all__ = ["Cause", "Complication", "ResultClass", "SuggestedCause", "presenting", "result_class", "suggested_cause"]

TWENTY_FEET = 20.0
SAME_LINE = 1e-9


class ResultClass(Enum):
    """A result by acuity, as blindness prevention classes it."""

    GOOD = "good"
    """6/18 or better."""
    BORDERLINE = "borderline"
    """Worse than 6/18, 6/60 or better."""
    POOR = "poor"
    """Worse than 6/60."""


class Cause(Enum):
    """Why a result is not good."""

    SELECTION = "selection"
    """Another disease of the eye, there before the operation."""
    SURGERY = "surgery"
    """A complication of the operation."""
    SPECTACLES = "spectacles"
    """Refraction: glasses would help."""
    SEQUELAE = "sequelae"
    """Something that came later: capsule, retina, cornea, late infection."""


class Complication(Enum):
    """What may be found at a visit."""

    WOUND_LEAK = "wound leak"
    IRIS_PROLAPSE = "iris in the wound"
    CORNEAL_OEDEMA = "corneal oedema"
    HYPHAEMA = "blood in the chamber"
    UVEITIS = "severe inflammation"
    CORTEX_LEFT = "lens matter left"
    HIGH_PRESSURE = "raised pressure"
    ENDOPHTHALMITIS = "endophthalmitis suspected"
    LENS_DISPLACED = "lens displaced"
    MACULAR_OEDEMA = "macular oedema"
    CAPSULE_OPAQUE = "capsule opacity"
    RETINAL_DETACHMENT = "retinal detachment"
    BULLOUS_KERATOPATHY = "bullous keratopathy"
    OTHER = "other"

    @property
    def is_sequel(self) -> bool:
        """Whether it is counted among the sequelae rather than to the operation itself."""
        return self in {
            Complication.CAPSULE_OPAQUE, Complication.RETINAL_DETACHMENT, Complication.BULLOUS_KERATOPATHY,
        }  # fmt: skip

    @property
    def is_urgent(self) -> bool:
        """Whether a surgeon must see the eye today."""
        return self in {
            Complication.WOUND_LEAK, Complication.IRIS_PROLAPSE, Complication.ENDOPHTHALMITIS,
            Complication.RETINAL_DETACHMENT,
        }  # fmt: skip


@dataclass(frozen=True, slots=True)
class SuggestedCause:
    """A cause to start from; a person decides."""

    cause: Cause
    reason: Reason


def presenting(*, unaided: Acuity | None, with_glasses: Acuity | None) -> Acuity | None:
    """The acuity with which the person walks about: with their glasses where they have some, else without.

    Parameters
    ----------
    unaided, with_glasses : Acuity or None
        As tested; ``None`` where not tested.

    Returns
    -------
    Acuity or None
        ``None`` where neither was tested.
    """
    return with_glasses if with_glasses is not None else unaided


def result_class(*, acuity: Acuity | None, knowledge: Knowledge) -> ResultClass | None:
    """The class of an acuity, whatever notation it was written in.

    Parameters
    ----------
    acuity : Acuity or None
        Presenting or best corrected.
    knowledge : Knowledge
        Holds the limits ``followup.result``.

    Returns
    -------
    ResultClass or None
        ``None`` where nothing was tested.

    Notes
    -----
    A line belongs to its class whichever way it is written: the limit between good and borderline, 6/18, is printed
    as equal to 3/10 and to 20/70, though their quotients differ; the loosest of them is the limit here. Acuity below
    the letter chart is poor.

    References
    ----------
    who_icd10_h54, table of categories; who1998.

    Example
    -------
    >>> from sideport.knowledge import load_published
    >>> from sideport.optics.acuity import parse_acuity
    >>> [result_class(acuity=parse_acuity(text), knowledge=load_published()).value for text in ("0.3", "6/24", "CF 2m")]
    ['good', 'borderline', 'poor']
    """
    if acuity is None:
        return None
    if acuity.logmar is None:
        return ResultClass.POOR
    for name in (ResultClass.GOOD, ResultClass.BORDERLINE):
        line = knowledge.value(f"followup.result.{name.value}")
        if acuity.logmar <= logmar_from_decimal(decimal=TWENTY_FEET / line) + SAME_LINE:
            return name
    return ResultClass.POOR


def suggested_cause(
    *, presenting: ResultClass | None, best: ResultClass | None, found: Collection[Complication],
    operation_events: Collection[str],
) -> SuggestedCause | None:  # fmt: skip
    """A cause to start from where the result is not good.

    Parameters
    ----------
    presenting : ResultClass or None
        With what the person walks about.
    best : ResultClass or None
        With the best glasses, or through a pinhole.
    found : collection of Complication
        At this or an earlier visit.
    operation_events : collection of str
        What went wrong in theatre, in words.

    Returns
    -------
    SuggestedCause or None
        ``None`` where the result is good or not known.

    Notes
    -----
    In this order: glasses that would help; a sequel that was found; a complication; what is left is put down to the
    eye itself. The order is our judgement; the four classes are published.

    References
    ----------
    who1998.
    """
    if presenting is None or presenting is ResultClass.GOOD:
        return None
    if best is not None and rank(best) < rank(presenting):
        return suggestion(Cause.SPECTACLES, f"Glasses or a pinhole bring it from {presenting.value} to {best.value}.")
    sequel = next((each for each in found if each.is_sequel), None)
    if sequel is not None:
        return suggestion(Cause.SEQUELAE, f"Found after the operation: {sequel.value}.")
    wrong = [*operation_events, *(each.value for each in found)]
    if wrong:
        return suggestion(Cause.SURGERY, f"Recorded: {', '.join(wrong)}.")
    return suggestion(Cause.SELECTION, "Glasses do not help and no complication is recorded: look for another disease.")


def rank(which: ResultClass) -> int:
    """0 for good up to 2 for poor."""
    return tuple(ResultClass).index(which)


def suggestion(cause: Cause, words: str) -> SuggestedCause:
    """A cause with its reason; the way from finding to cause is judgement."""
    return SuggestedCause(cause, Reason(words, Effect.FOR, "practice", Basis.COMMON_PRACTICE))
