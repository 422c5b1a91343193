"""The words that stand for sides, places, operations and people on every sheet and screen.

Side and placement are written in capitals and never abbreviated next to a number for care.
"""

import re

from ..day.plan import EyePlan, PowerNeed
from ..eye.person import Cataract, Sex
from ..knowledge.advice import Severity
from ..lens.choice import LensChoice
from ..lens.model import Placement
from ..lens.registry import FORMULAS
from ..optics.side import Side
from ..wound.plan import Site, WoundOption
from ..wound.technique import Technique
from . import numbers

__all__ = [
    "PLACEMENT_WORDS", "SEVERITY_WORDS", "SIDE_WORDS", "TECHNIQUE_WORDS", "brief", "cataract_words", "clock_hour",
    "cut_words", "formula_words", "lens_words", "need_words", "person_words", "place_words", "sentences",
    "shortened", "whole_clause", "whole_sentences",
]  # fmt: skip

SIDE_WORDS = {Side.RIGHT: "RIGHT", Side.LEFT: "LEFT"}
PLACEMENT_WORDS = {Placement.BAG: "BAG", Placement.SULCUS: "SULCUS", Placement.CHAMBER: "CHAMBER"}
SEVERITY_WORDS = {Severity.STOP: "STOP", Severity.WARN: "LOOK AGAIN", Severity.NOTE: "NOTE"}
TECHNIQUE_WORDS = {
    Technique.MSICS: "Manual small-incision",
    Technique.PHACO: "Phacoemulsification",
    Technique.ECCE: "Extracapsular",
    Technique.ICCE: "Intracapsular",
    Technique.REFER: "REFER",
}
SITE_WORDS = {
    Site.SUPERIOR: "superior",
    Site.SUPEROTEMPORAL: "superotemporal",
    Site.TEMPORAL: "temporal",
    Site.SUPERONASAL: "superonasal",
}
SENTENCE_END = re.compile(r"(?<=[.!?])\s+")
LAST_NUMBER = re.compile(r"\s[+\u2212-]?\d[\d.,]*$")
CLAUSE_END = re.compile(r"[,;:](?=\s)")
LONGEST = 4
"""A sentence so many times longer than its place is cut at a word after all."""
SEX_WORDS = {Sex.FEMALE: "female", Sex.MALE: "male"}


def person_words(eye: EyePlan) -> str:
    """Age and sex, each said to be unknown where it is."""
    return f"{numbers.age(eye.age_years)}, {SEX_WORDS[eye.sex] if eye.sex else 'sex not known'}"


def cataract_words(cataract: Cataract | None) -> str:
    """The cataract as the surgeon calls it."""
    if cataract is None:
        return "cataract not described"
    return "no cataract" if cataract is Cataract.NONE else f"{cataract.value} cataract"


def lens_words(choice: LensChoice) -> str:
    """Signed power, place and model in one breath; a lens that stands by for several eyes says so."""
    return f"{numbers.power(choice.power_d)} {place_words(choice)} {choice.model}"


def place_words(choice: LensChoice) -> str:
    """Where the lens goes; a shared backup says that it is promised to no eye.

    Parameters
    ----------
    choice : LensChoice
        The lens.

    Returns
    -------
    str
        ``BAG``, ``SULCUS`` or ``SULCUS · shared``.
    """
    return PLACEMENT_WORDS[choice.placement] + (" · shared" if choice.shared else "")


def formula_words(keys: str) -> str:
    """The label of one formula, or of the mean of several whose keys are joined by a plus.

    Parameters
    ----------
    keys : str
        As ``LensChoice.formula`` holds them; a key that is not registered is repeated as it stands.

    Returns
    -------
    str
        ``SRK/T``, or ``mean of SRK/T and Hoffer Q``.

    Example
    -------
    >>> formula_words("srk-t"), formula_words("srk-t + holladay-1 + hoffer-q")
    ('SRK/T', 'mean of SRK/T, Holladay 1 and Hoffer Q')
    """
    labels = [FORMULAS[key].label if key in FORMULAS else key for key in keys.split(" + ")]
    return labels[0] if len(labels) == 1 else f"mean of {', '.join(labels[:-1])} and {labels[-1]}"


def brief(text: str, limit: int) -> str:
    """The first sentence, cut at a word where it is longer than the limit; what was cut is shown by an ellipsis.

    Parameters
    ----------
    text : str
        One or more sentences.
    limit : int
        Most letters that are kept, the ellipsis not counted.

    Returns
    -------
    str
        At most ``limit + 2`` letters.

    Notes
    -----
    A sentence ends at a full stop before a space, so a decimal point ends none. A cut takes a number at the new end
    away as well, since its unit may have been cut.

    Example
    -------
    >>> brief("The right eye is 1.50 mm shorter. A probe that presses reads short.", 90)
    'The right eye is 1.50 mm shorter.'
    >>> brief("The right eye is 1.50 mm shorter.", 24)
    'The right eye is 1.50 mm …'
    >>> brief("The right eye is 1.50 mm shorter.", 22)
    'The right eye is …'
    """
    first = SENTENCE_END.split(text.strip(), maxsplit=1)[0]
    return first if len(first) <= limit else cut_at_word(first, limit)


def shortened(text: str, limit: int) -> str:
    """The whole text where it fits, else the sentences that fill half the room, else as many words as fit.

    Parameters
    ----------
    text : str
        One or more sentences.
    limit : int
        Most letters that are kept, the ellipsis not counted.

    Returns
    -------
    str
        At most ``limit + 2`` letters; an ellipsis marks the cut.

    Example
    -------
    >>> shortened("Steep at 101° by 0.98 D. A superior cut flattens it. It heals in weeks.", 60)
    'Steep at 101° by 0.98 D. A superior cut flattens it. …'
    """
    whole = text.strip()
    if len(whole) <= limit:
        return whole
    ends = [found.start() for found in SENTENCE_END.finditer(whole) if limit / 2 <= found.start() <= limit]
    return f"{whole[: ends[-1]]} …" if ends else cut_at_word(whole, limit)


def sentences(text: str) -> list[str]:
    """The sentences of a text; none of an empty one.

    Parameters
    ----------
    text : str
        One or more sentences.

    Returns
    -------
    list of str
        Each with its stop.
    """
    return SENTENCE_END.split(text.strip()) if text.strip() else []


def whole_sentences(text: str, limit: int) -> str:
    """As many whole sentences as fit, the first always; how many are left out is counted.

    Parameters
    ----------
    text : str
        One or more sentences.
    limit : int
        Letters from which no further sentence is begun.

    Returns
    -------
    str
        Whole sentences; advice is never cut inside one. Only a first sentence of more than four times the limit,
        which no room writes, is cut at a word.

    Example
    -------
    >>> whole_sentences("Stain it. Do not pull, the zonule gives first.", 20)
    'Stain it. (+1 on the screen)'
    >>> whole_sentences("Do not pull, the zonule gives first.", 20)
    'Do not pull, the zonule gives first.'
    """
    told = SENTENCE_END.split(text.strip())
    if len(told[0]) > LONGEST * limit:
        return cut_at_word(told[0], LONGEST * limit)
    kept = told[:1]
    for sentence in told[1:]:
        if len(" ".join([*kept, sentence])) > limit:
            break
        kept.append(sentence)
    left = len(told) - len(kept)
    return " ".join(kept) + (f" (+{left} on the screen)" if left else "")


def whole_clause(text: str, limit: int) -> str:
    """The first sentence, or its longest beginning that ends with a clause and fits; brackets are never left open.

    Parameters
    ----------
    text : str
        One or more sentences.
    limit : int
        Most letters that are kept, the ellipsis not counted.

    Returns
    -------
    str
        At most ``limit + 2`` letters, unless there is no clause to end with: then as many words as fit.

    Example
    -------
    >>> whole_clause("The length of 23.2 mm (contact): the other readings speak against it, most likely.", 70)
    'The length of 23.2 mm (contact): the other readings speak against it …'
    """
    first = SENTENCE_END.split(text.strip(), maxsplit=1)[0]
    if len(first) <= limit:
        return first
    ends = [
        found.start()
        for found in CLAUSE_END.finditer(first)
        if limit / 3 <= found.start() <= limit
        and first[: found.start()].count("(") == first[: found.start()].count(")")
    ]
    return f"{first[: ends[-1]]} …" if ends else cut_at_word(first, limit)


def cut_at_word(text: str, limit: int) -> str:
    """As many words as fit, without a last number that may have lost its unit."""
    part = text[: limit + 1]
    kept = part.rsplit(" ", 1)[0] if " " in part else part[:limit]
    return f"{LAST_NUMBER.sub('', kept).rstrip(',;: ')} …"


def need_words(need: PowerNeed) -> str:
    """A lens to fetch: signed power, place and model."""
    return f"{numbers.power(need.power_d)} {PLACEMENT_WORDS[need.placement]} {need.model}"


def cut_words(option: WoundOption) -> str:
    """Site, clock hour, length and shape of a cut."""
    return (
        f"{SITE_WORDS[option.site]} {clock_hour(option.meridian_deg)}, {numbers.millimetres(option.length_mm)} "
        f"{option.shape.value}"
    )


def clock_hour(meridian_deg: float) -> str:
    """A meridian as the nearest half hour of the clock face that the examiner sees.

    Parameters
    ----------
    meridian_deg : float
        0 to 360 [deg], counter-clockwise as the examiner faces the patient: 0 is 3 o'clock, 90 is 12 o'clock.

    Returns
    -------
    str
        ``12 o'clock``, or ``10:30 o'clock`` between the hours.

    Notes
    -----
    The clock face is the examiner's for both eyes, so 3 o'clock is nasal in a right eye and temporal in a left one.

    Example
    -------
    >>> clock_hour(90), clock_hour(0), clock_hour(135), clock_hour(80)
    ("12 o'clock", "3 o'clock", "10:30 o'clock", "12:30 o'clock")
    """
    half_hours = round((90.0 - meridian_deg) / 15.0) % 24
    hour = half_hours // 2 or 12
    return f"{hour}:30 o'clock" if half_hours % 2 else f"{hour} o'clock"
