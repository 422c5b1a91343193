"""Visual acuity: what was written, what it means, and which of two is worse.

Acuity below the letter chart keeps its own kind. It is never turned into a number; two acuities
are put in order by kind first.
"""

import math
import re
import unicodedata
from dataclasses import dataclass
from enum import Enum

__all__ = ["Acuity", "AcuityKind", "logmar_from_decimal", "parse_acuity"]


class AcuityKind(Enum):
    """How acuity was tested, best kind first."""

    LETTERS = "letters"
    COUNTING_FINGERS = "counting fingers"
    HAND_MOVEMENTS = "hand movements"
    LIGHT_PERCEPTION = "light perception"
    NO_LIGHT_PERCEPTION = "no light perception"

    @property
    def rank(self) -> int:
        """0 for letters up to 4 for no light perception; larger is worse."""
        return tuple(AcuityKind).index(self)


@dataclass(frozen=True, slots=True)
class Acuity:
    """One distance acuity as recorded."""

    written: str
    """The text as found, so that a part-read line (``6/9 P``, ``6/12-2``) is not lost."""
    kind: AcuityKind
    logmar: float | None = None
    """For letters only; of the whole line, letters more or fewer are left to ``written``."""
    distance_m: float | None = None
    """For counting fingers and hand movements, where it was written with a unit."""

    @property
    def order(self) -> tuple[int, float]:
        """Sort key: a larger key is a worse acuity.

        Letters sort by logMAR, counting fingers and hand movements by distance (none written counts as at the face).
        Every letter acuity is better than counting fingers, and so on down the kinds.
        """
        if self.logmar is not None:
            return self.kind.rank, self.logmar
        return self.kind.rank, -(self.distance_m or 0.0)

    def worse_than(self, other: "Acuity") -> bool:
        """Whether this acuity is worse than another.

        Example
        -------
        >>> fingers = Acuity("CF 2m", AcuityKind.COUNTING_FINGERS, distance_m=2.0)
        >>> fingers.worse_than(Acuity("6/60", AcuityKind.LETTERS, 1.0))
        True
        """
        return self.order > other.order


def logmar_from_decimal(*, decimal: float) -> float:
    """LogMAR of a decimal acuity (or of a Snellen fraction worked out), the negative decimal logarithm.

    Parameters
    ----------
    decimal : float
        Decimal acuity, above 0 [1].

    Returns
    -------
    float
        LogMAR [log10 arcmin].

    Example
    -------
    >>> round(logmar_from_decimal(decimal=6 / 60), 2)
    1.0
    """
    return -math.log10(decimal) + 0.0


# A bare number up to this is a decimal acuity; a larger one is something else (an age, a line number).
BEST_DECIMAL = 4.0
# Outside these a "logMAR" is a slip of the pen.
LOGMAR_RANGE = (-0.6, 3.0)
METRES = {"M": 1.0, "CM": 0.01, "MM": 0.001, "FT": 0.3048}

PLAIN_SIGNS = str.maketrans("⁄∕\\−–—’", "///---'")

NUMBER = r"(\d+(?:\.\d+)?|\.\d+)"
SIGN = r"(?:VE|IVE)?"
FRACTION = re.compile(
    rf"{NUMBER} ?/ ?{NUMBER} ?(?:\(? ?(?:P|PART|PARTIAL|PARTLY) ?\)?|\(? ?[+-] ?\d? ?\)?|\+{{1,2}}|-{{1,2}})?"
)
LOGMAR = re.compile(rf"(?:LOG ?MAR[ :=]*([+-]?) ?{NUMBER}|([+-]?) ?{NUMBER} ?LOG ?MAR)")
DECIMAL = re.compile(rf"{NUMBER} ?P?")
DISTANCE = re.compile(
    rf"(?:{NUMBER} ?/ ?{NUMBER}|{NUMBER}) ?(M|MT|MTR|MTRS|METERS?|METRES?|CM|CMS|MM|FT|FEET|FOOT|')\+?"
)
FACE = r"(?:CF|TO FACE|(?:AT|IN FRONT OF|CLOSE TO|NEAR)(?: THE)? FACE)"
FINGERS = re.compile(
    r"(?:CF|FC|(?:COUNT(?:S|ING)?|CNT) ?FINGERS?|FINGERS? ?COUNT(?:ING|S)?)(?P<rest>(?: ?(?:@|AT|-|:|=) ?| )?.*)"
)
HANDS = re.compile(r"(?:HM|HMS|HAND ?(?:MOVEMENTS?|MOTIONS?)(?: ?\(?HM\)?)?)(?P<rest>(?: ?(?:@|AT|-|:|=) ?| )?.*)")
LIGHT = r"(?:PL|LP|LIGHT PERCEPTION|PERCEPTION OF LIGHT|PERCEIVES LIGHT)"
NEGATIVE = rf"(?:- ?{SIGN}|\( ?- ?{SIGN} ?\)|NEG(?:ATIVE)?|ABSENT|NIL|NO|NONE)"
POSITIVE = rf"(?:\+ ?{SIGN}|\( ?\+ ?{SIGN} ?\)|POS(?:ITIVE)?|PRESENT|YES|ONLY)"
PROJECTION = r"(?:P\.?R|PROJECTION)(?: ?OF (?:RAYS|LIGHT))?"
NO_LIGHT = re.compile(rf"(?:NPL|NLP|NO ?{LIGHT}|{LIGHT} ?{NEGATIVE}(?:[ ,;/&]*{PROJECTION} ?{NEGATIVE})?)")
SOME_LIGHT = re.compile(
    rf"{LIGHT} ?{POSITIVE}?(?:[ ,;/&]*(?:WITH |AND |C )?(?:GOOD |ACCURATE |POOR |FAULTY )?{PROJECTION}\b.*|PR.*)?"
)
PROJECTED = re.compile(
    rf"(?:GOOD |ACCURATE |POOR |FAULTY )?{PROJECTION}"
    rf"(?: ?{POSITIVE}| ?(?:IN)?ACC(?:URATE)?\b.*| ?(?:GOOD|POOR|FAULTY|FULL)\b.*)"
)


def parse_acuity(text: str) -> Acuity | None:
    """Reads an acuity as clerks write it; never raises.

    Parameters
    ----------
    text : str
        Snellen (``6/60``, ``20/40``, ``6/9 P``, ``6/6-2``), a bare decimal (``0.5``), ``logMAR 0.3``, ``CF 2m``,
        ``FC``, ``HM``, ``PL``, ``PL+ PR accurate``, ``NPL``; any case, comma decimals, digits of any script.

    Returns
    -------
    Acuity or None
        ``None`` where the text means no acuity for certain; the caller then lists it for a person to mend.

    Notes
    -----
    A bare number is a decimal acuity, never logMAR, which must say so. ``PL-`` is no light perception. ``PR``
    (projection of rays) presupposes perception. A fraction with a limit (``<6/60``) or a pinhole is not an acuity of
    this kind: ``None``.

    Example
    -------
    >>> parse_acuity("6/60").logmar
    1.0
    >>> parse_acuity("cf 30 cm").distance_m
    0.3
    >>> parse_acuity("PL+, PR accurate").kind
    <AcuityKind.LIGHT_PERCEPTION: 'light perception'>
    """
    plain = plain_text(text)
    if not plain:
        return None
    if NO_LIGHT.fullmatch(plain):
        return Acuity(text, AcuityKind.NO_LIGHT_PERCEPTION)
    if SOME_LIGHT.fullmatch(plain) or PROJECTED.fullmatch(plain):
        return Acuity(text, AcuityKind.LIGHT_PERCEPTION)
    for pattern, kind in ((FINGERS, AcuityKind.COUNTING_FINGERS), (HANDS, AcuityKind.HAND_MOVEMENTS)):
        if found := pattern.fullmatch(plain):
            understood, distance_m = read_distance(found["rest"])
            return Acuity(text, kind, distance_m=distance_m) if understood else None
    logmar = read_letters(plain)
    return None if logmar is None else Acuity(text, AcuityKind.LETTERS, logmar)


def plain_text(text: str) -> str:
    """Upper case, one space, a point for the comma, Latin digits, plain slash and minus."""
    folded = unicodedata.normalize("NFKC", str(text)).upper()
    digits = "".join(str(unicodedata.decimal(sign)) if sign.isdecimal() else sign for sign in folded)
    plain = digits.translate(PLAIN_SIGNS)
    plain = re.sub(r"(?<=\d),(?=\d)", ".", plain)
    plain = re.sub(r"(?<=[A-Z])\.", "", plain)
    plain = re.sub(r"^(?:VA|V/A)[ :=]+", "", plain)
    return " ".join(plain.split())


def read_distance(rest: str) -> tuple[bool, float | None]:
    """Whether the words after the test are a distance or say "at the face", and the distance [m] if it has a unit."""
    plain = re.sub(r"^ ?(?:@|AT |-|:|=)? ?", "", rest).strip(" ()")
    if not plain or re.fullmatch(rf"\+{SIGN}|POSITIVE|PRESENT|ONLY|{NUMBER}|{FACE}|FACE|CLOSE|S", plain):
        return True, None
    found = DISTANCE.fullmatch(plain)
    if not found:
        return False, None
    above, below, whole, unit = found.groups()
    if below is not None and float(below) == 0:
        return False, None
    length = float(whole) if whole is not None else float(above) / float(below)
    short = "FT" if unit[0] in "F'" else "CM" if unit.startswith("CM") else "MM" if unit == "MM" else "M"
    return True, round(length * METRES[short], 4)


def read_letters(plain: str) -> float | None:
    """LogMAR of a letter acuity, or ``None``."""
    if found := LOGMAR.fullmatch(plain):
        sign, size = (found[1], found[2]) if found[2] is not None else (found[3], found[4])
        logmar = -float(size) if sign == "-" else float(size)
        return logmar + 0.0 if LOGMAR_RANGE[0] <= logmar <= LOGMAR_RANGE[1] else None
    if found := FRACTION.fullmatch(plain):
        above, below = float(found[1]), float(found[2])
        decimal = above / below if below else math.inf
    elif found := DECIMAL.fullmatch(plain):
        decimal = float(found[1])
    else:
        return None
    return logmar_from_decimal(decimal=decimal) if 0 < decimal <= BEST_DECIMAL else None
