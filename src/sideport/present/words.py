"""The words that stand for sides, places, operations and people on every sheet and screen.

Side and placement are written in capitals and never abbreviated next to a number for care.
"""

from ..day.plan import EyePlan, PowerNeed
from ..eye.person import Cataract, Sex
from ..knowledge.advice import Severity
from ..lens.choice import LensChoice
from ..lens.model import Placement
from ..optics.side import Side
from ..wound.plan import Site, WoundOption
from ..wound.technique import Technique
from . import numbers

__all__ = [
    "PLACEMENT_WORDS", "SEVERITY_WORDS", "SIDE_WORDS", "TECHNIQUE_WORDS", "cataract_words", "clock_hour", "cut_words",
    "lens_words", "need_words", "person_words",
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
    """Signed power, place and model in one breath."""
    return f"{numbers.power(choice.power_d)} {PLACEMENT_WORDS[choice.placement]} {choice.model}"


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
