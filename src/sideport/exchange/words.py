"""The words by which registers say a side, a cataract, a method: each list maps normalised words to one meaning."""

from collections.abc import Mapping
from enum import Enum
from functools import cache
from typing import Any, TypeVar

from ..eye.measurement import Method, Quantity
from ..eye.person import Cataract, Pupil, Sex
from ..lens.model import Placement
from ..optics.side import Side
from ..risk.team import Grade
from ..wound.technique import Technique
from .columns import normalised

__all__ = ["MISSING", "NO", "YES", "meanings", "side_meant"]

Meaning = TypeVar("Meaning", bound=Enum)

MISSING = frozenset((
    "", "?", "??", "-", "--", "–", "—", "n/a", "na", "nil recorded", "not known", "unknown", "not recorded", "nk", "nr",
    "not done", "not possible", "not taken", "could not", "failed", "no trace", "#n/a", "none recorded", "জানা নেই",
    "पता नहीं",
))  # fmt: skip
"""Cells that say nothing was recorded, lower case; a yes-or-no column reads ``-`` as no."""

YES = frozenset((
    "yes", "y", "true", "1", "+", "++", "+++", "+ve", "positive", "pos", "present", "x", "✓", "✔", "done", "known",
    "হ্যাঁ", "আছে", "हाँ", "हां", "है",
))  # fmt: skip
NO = frozenset((
    "no", "n", "false", "0", "-", "–", "—", "-ve", "negative", "neg", "absent", "nil", "none", "not present",
    "না", "নেই", "नहीं",
))  # fmt: skip

SIDES = {
    Side.RIGHT: ("right", "r", "re", "od", "rt", "right eye", "o d", "r e", "ডান", "ডান চোখ", "दायां", "दायाँ", "दाहिना",
                 "दाईं", "दाईं आँख"),
    Side.LEFT: ("left", "l", "le", "os", "lt", "left eye", "o s", "l e", "বাম", "বাঁ", "বাম চোখ", "बायां", "बायाँ", "बाईं",
                "बाईं आँख"),
}  # fmt: skip
SEXES = {
    Sex.FEMALE: ("female", "f", "woman", "w", "মহিলা", "নারী", "महिला", "स्त्री"),
    Sex.MALE: ("male", "m", "man", "পুরুষ", "पुरुष"),
}
CATARACTS = {
    Cataract.IMMATURE: ("immature", "imsc", "immature senile cataract", "early", "nuclear", "cortical", "psc",
                        "psc cataract"),
    Cataract.WHITE: ("white", "mature", "total", "msc", "mature senile cataract", "white mature", "mature white"),
    Cataract.INTUMESCENT: ("intumescent", "swollen", "white swollen", "intumescent white"),
    Cataract.BROWN: ("brown", "brunescent", "nuclear brown", "brown nucleus", "hard brown", "dense brown"),
    Cataract.BLACK: ("black", "nigra", "cataracta nigra", "black nucleus"),
    Cataract.HYPERMATURE: ("hypermature", "hyper mature", "hmsc", "morgagnian", "hypermature senile cataract",
                           "hypermature morgagnian"),
    Cataract.NONE: ("none", "no cataract", "clear", "clear lens", "pseudophakia", "pseudophakic", "operated", "iol",
                    "aphakia", "aphakic"),
}  # fmt: skip
PUPILS = {
    Pupil.LARGE: ("large", "wide", "well dilated", "dilated", "good", "big", "l"),
    Pupil.MEDIUM: ("medium", "mid", "moderate", "average", "mid dilated", "m"),
    Pupil.SMALL: ("small", "poor", "poorly dilated", "not dilating", "narrow", "miotic", "s"),
}
METHODS = {
    Method.CONTACT_ULTRASOUND: (
        "contact ultrasound", "contact", "contact a scan", "a scan contact", "contact us", "applanation",
        "applanation a scan", "a scan", "ascan", "us contact",
    ),
    Method.IMMERSION_ULTRASOUND: (
        "immersion ultrasound", "immersion", "immersion a scan", "a scan immersion", "immersion us",
    ),
    Method.OPTICAL: ("optical", "optical biometer", "optical biometry", "laser", "oct", "swept source",
                     "interferometry"),
    Method.MANUAL_KERATOMETER: ("manual keratometer", "manual", "manual k", "manual keratometry", "keratometer"),
    Method.AUTO_KERATOMETER: (
        "auto keratometer", "auto", "auto k", "autokeratometer", "automated keratometer", "automated",
        "autorefractometer", "ark", "hand held auto",
    ),
    Method.CALLIPER: ("calliper", "caliper", "callipers", "calipers", "ruler"),
    Method.UNKNOWN: ("unknown", "other"),
}  # fmt: skip
QUANTITIES = {
    Quantity.AXIAL_LENGTH: ("axial length", "al", "axl", "length"),
    Quantity.K1: ("k1", "k 1", "kf", "kh", "flat k", "k flat", "k horizontal"),
    Quantity.K2: ("k2", "k 2", "ks", "kv", "steep k", "k steep", "k vertical"),
    Quantity.ANTERIOR_CHAMBER_DEPTH: ("anterior chamber depth", "acd", "chamber depth"),
    Quantity.LENS_THICKNESS: ("lens thickness", "lt"),
    Quantity.WHITE_TO_WHITE: ("white to white", "wtw", "corneal diameter", "hvid"),
}
GRADES = {
    Grade.SENIOR: ("senior", "consultant", "lead", "lead surgeon", "senior surgeon", "chief"),
    Grade.EXPERIENCED: ("experienced", "associate", "associate specialist", "staff grade", "specialist", "surgeon"),
    Grade.TRAINEE: ("trainee", "registrar", "fellow", "in training", "resident"),
    Grade.NOVICE: ("novice", "beginner", "house officer", "junior", "new trainee"),
}
TECHNIQUES = {
    Technique.MSICS: ("manual small incision", "msics", "sics", "small incision", "tunnel"),
    Technique.PHACO: ("phacoemulsification", "phaco", "pe"),
    Technique.ECCE: ("extracapsular", "ecce"),
    Technique.ICCE: ("intracapsular", "icce"),
}
PLACEMENTS = {
    Placement.BAG: ("bag", "capsular bag", "in the bag", "capsule"),
    Placement.SULCUS: ("sulcus", "ciliary sulcus"),
    Placement.CHAMBER: ("chamber", "anterior chamber", "ac", "ac lens", "iris", "iris claw", "iris fixated"),
}

LISTS: Mapping[type[Enum], Mapping[Any, tuple[str, ...]]] = {
    Side: SIDES,
    Sex: SEXES,
    Cataract: CATARACTS,
    Pupil: PUPILS,
    Method: METHODS,
    Quantity: QUANTITIES,
    Grade: GRADES,
    Technique: TECHNIQUES,
    Placement: PLACEMENTS,
}


@cache
def meanings(kind: type[Meaning]) -> Mapping[str, Meaning]:
    """Each normalised word that means a member of an enumeration.

    Parameters
    ----------
    kind : type of Enum
        One of the enumerations above, such as ``Side``.

    Returns
    -------
    mapping of str to the member
    """
    return {
        normalised(word): member for member, words in LISTS[kind].items() for word in words if isinstance(member, kind)
    }


@cache
def side_meant(text: str) -> Side | None:
    """The side that a word or heading names, or ``None``."""
    return meanings(Side).get(normalised(text))
