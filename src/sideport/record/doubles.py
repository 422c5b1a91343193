"""Finds numbers of the register that may belong to one person. It joins nothing: it says what to ask a person."""

import unicodedata
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice

from rapidfuzz import fuzz, process

from ..eye.person import Sex

__all__ = ["WEIGHTS", "Alike", "Card", "Weights", "alike", "alike_among", "comparable", "phone_tail"]

PREFIX = 3
"""Letters of a word of a name by which people are brought together to be compared."""
TAIL = 8
"""Last digits of a telephone number that count: a country's code or a leading 0 is often left out."""
SHORTEST_PHONE = 7
ROWS = 500
"""People of one block that are compared with all the others of it at once."""


@dataclass(frozen=True, slots=True)
class Weights:
    """How much each agreement says, in points that add up; our own judgement, not an estimate from data.

    The sum follows the idea of Fellegi and Sunter (1969), in which each field adds the logarithm of how much likelier
    its agreement is within one person than between two. A wrong question costs a minute, a wrong silence a second
    record, so the threshold is low.
    """

    name_equal: float = 3.0
    name_similar: float = 2.0
    name_other: float = -2.0
    """Only where both are written in one script."""
    phone_equal: float = 2.0
    """Families share a telephone."""
    place_equal: float = 1.0
    sex_equal: float = 0.5
    sex_other: float = -3.0
    age_near: float = 1.0
    age_about: float = 0.5
    age_other: float = -2.0
    similar_percent: float = 86.0
    """Similarity of names from which they may be spellings of one."""
    near_years: float = 2.0
    about_years: float = 5.0
    apart_years: float = 10.0
    """Ages are often rounded to fives and tens; only beyond this do they speak against."""
    ask_from: float = 3.0


WEIGHTS = Weights()


@dataclass(frozen=True, slots=True)
class Card:
    """What two registrations are compared by."""

    person_id: str
    name: str
    age_years: float | None = None
    sex: Sex | None = None
    phone: str = ""
    place: str = ""


@dataclass(frozen=True, slots=True)
class Alike:
    """Two numbers that may belong to one person."""

    person_id: str
    other: str
    points: float
    why: tuple[str, ...]
    """What agrees and what does not; no names."""


def comparable(name: str) -> str:
    """A name for comparing: one form of each letter, no signs, words in order of the alphabet.

    Example
    -------
    >>> comparable("BEGUM,  Rahima")
    'begum rahima'
    """
    folded = unicodedata.normalize("NFKC", name).casefold()
    kept = "".join(letter if unicodedata.category(letter)[0] in "LMN" else " " for letter in folded)
    return " ".join(sorted(kept.split()))


def phone_tail(phone: str) -> str:
    """The digits of a telephone number that count, in any script; empty when there are too few to tell people apart."""
    digits = "".join(str(int(sign)) for sign in phone if sign.isdecimal())
    return digits[-TAIL:] if len(digits) >= SHORTEST_PHONE else ""


def script_of(name: str) -> str:
    """The script of the first letter, by its Unicode name."""
    first = next((letter for letter in name if letter.isalpha()), "")
    return unicodedata.name(first, "").partition(" ")[0]


def alike(one: Card, other: Card, weights: Weights = WEIGHTS) -> Alike | None:
    """Whether two cards may be of one person, and why.

    Parameters
    ----------
    one, other : Card
        Of two numbers.
    weights : Weights
        How much each agreement says.

    Returns
    -------
    Alike or None
        ``None`` when too little agrees to ask.
    """
    said = [found for found in (name_said(one, other, weights), phone_said(one, other, weights),
                                place_said(one, other, weights), sex_said(one, other, weights),
                                age_said(one, other, weights)) if found]  # fmt: skip
    points = sum(worth for worth, _ in said)
    if points < weights.ask_from:
        return None
    later, earlier = sorted((one.person_id, other.person_id), reverse=True)
    return Alike(later, earlier, points, tuple(words for _, words in said))


Said = tuple[float, str] | None


def name_said(one: Card, other: Card, weights: Weights) -> Said:
    """What the names say; of names in two scripts nothing."""
    names = comparable(one.name), comparable(other.name)
    if names[0] == names[1]:
        return weights.name_equal, "the same name"
    if script_of(names[0]) != script_of(names[1]):
        return 0.0, "names in two scripts"
    if fuzz.ratio(*names) >= weights.similar_percent:
        return weights.name_similar, "similar names"
    return weights.name_other, "other names"


def phone_said(one: Card, other: Card, weights: Weights) -> Said:
    """What the telephone numbers say; a different one says nothing."""
    tail = phone_tail(one.phone)
    return (weights.phone_equal, "the same telephone") if tail and tail == phone_tail(other.phone) else None


def place_said(one: Card, other: Card, weights: Weights) -> Said:
    """What the places say; a different spelling says nothing."""
    place = comparable(one.place)
    return (weights.place_equal, "the same place") if place and place == comparable(other.place) else None


def sex_said(one: Card, other: Card, weights: Weights) -> Said:
    """What the sexes say, where both are known."""
    if one.sex is None or other.sex is None:
        return None
    return (weights.sex_equal, "the same sex") if one.sex is other.sex else (weights.sex_other, "other sex")


def age_said(one: Card, other: Card, weights: Weights) -> Said:
    """What the ages say, where both are known."""
    if one.age_years is None or other.age_years is None:
        return None
    apart = abs(one.age_years - other.age_years)
    if apart > weights.apart_years:
        return weights.age_other, f"ages {apart:.0f} years apart"
    if apart > weights.about_years:
        return None
    return (weights.age_near, "nearly the same age") if apart <= weights.near_years else (
        weights.age_about, "about the same age")  # fmt: skip


def alike_among(
    cards: Iterable[Card], of: Collection[str] | None = None, weights: Weights = WEIGHTS
) -> tuple[Alike, ...]:
    """Every pair that a person should be asked about.

    Parameters
    ----------
    cards : iterable of Card
        The register.
    of : collection of str or None
        Numbers of which one at least must be in a pair; ``None`` for all.
    weights : Weights
        How much each agreement says.

    Returns
    -------
    tuple of Alike
        Most points first, then by number.

    Notes
    -----
    Only people who share the end of a telephone number, or the beginning of a word of their name, are compared.
    """
    found: dict[tuple[str, str], Alike] = {}
    for block in blocks(cards).values():
        for one, other in pairs(block, of, weights):
            pair = alike(one, other, weights)
            if pair is not None:
                found[pair.person_id, pair.other] = pair
    return tuple(sorted(found.values(), key=lambda pair: (-pair.points, pair.person_id, pair.other)))


def blocks(cards: Iterable[Card]) -> Mapping[str, list[Card]]:
    """People brought together by what they share."""
    together: dict[str, list[Card]] = defaultdict(list)
    for card in cards:
        tail = phone_tail(card.phone)
        keys = {f"name {word[:PREFIX]}" for word in comparable(card.name).split()}
        for key in keys | ({f"phone {tail}"} if tail else set()):
            together[key].append(card)
    return together


def pairs(block: Sequence[Card], of: Collection[str] | None, weights: Weights) -> Iterator[tuple[Card, Card]]:
    """The pairs of a block that are worth a closer look: similar names, or one telephone."""
    names = [comparable(card.name) for card in block]
    tails = [phone_tail(card.phone) for card in block]
    rows = iter(index for index, card in enumerate(block) if of is None or card.person_id in of)
    while some := list(islice(rows, ROWS)):
        scores = process.cdist([names[row] for row in some], names, score_cutoff=weights.similar_percent)
        for place, row in enumerate(some):
            near = {int(column) for column in scores[place].nonzero()[0]}
            if tails[row]:
                near |= {column for column, tail in enumerate(tails) if tail == tails[row]}
            for column in near:
                if block[row].person_id != block[column].person_id and (of is not None or row < column):
                    yield block[row], block[column]
