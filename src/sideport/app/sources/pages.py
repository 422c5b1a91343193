"""What the source pages show, from the knowledge that ships with this version."""

from dataclasses import dataclass

from django.contrib.auth.models import AnonymousUser

from ...knowledge import Basis, Number, Source, load_published
from ...lens.registry import FORMULAS
from ...present import numbers
from ..people.models import Account
from ..planning.frames import Frame, bare_frame
from ..templatetags.marks import basis_words

__all__ = ["SourcePage", "SourcesPage", "source_page", "sources_page"]


@dataclass(frozen=True, slots=True)
class NumberLine:
    """One clinical number as the page writes it."""

    number: Number
    value: str
    basis: str


@dataclass(frozen=True, slots=True)
class SourceLine:
    """One work and how much stands on it."""

    source: Source
    numbers: int
    recalled: int
    """How many of them are from memory, not yet read in print."""


@dataclass(frozen=True, slots=True)
class SourcesPage:
    """The bibliography."""

    frame: Frame
    version: str
    lines: tuple[SourceLine, ...]


@dataclass(frozen=True, slots=True)
class SourcePage:
    """One work."""

    frame: Frame
    source: Source
    formulas: tuple[str, ...]
    lines: tuple[NumberLine, ...]


def sources_page(user: Account | AnonymousUser) -> SourcesPage:
    """The bibliography, by citation."""
    knowledge = load_published()
    lines = []
    for source in sorted(knowledge.sources.values(), key=lambda work: work.citation):
        standing = [number for number in knowledge.numbers.values() if number.source == source.key]
        recalled = sum(number.basis is Basis.RECALLED for number in standing)
        lines.append(SourceLine(source, len(standing), recalled))
    return SourcesPage(frame=bare_frame("sources", user), version=knowledge.version, lines=tuple(lines))


def source_page(key: str, user: Account | AnonymousUser) -> SourcePage | None:
    """One work with the numbers and formulas that stand on it, or ``None`` when there is no such work."""
    knowledge = load_published()
    source = knowledge.sources.get(key)
    if source is None:
        return None
    standing = sorted((number for number in knowledge.numbers.values() if number.source == key), key=lambda n: n.key)
    lines = tuple(NumberLine(number, written(number), basis_words(number.basis)) for number in standing)
    formulas = tuple(formula.label for formula in FORMULAS.values() if formula.source == key)
    return SourcePage(frame=bare_frame("sources", user), source=source, formulas=formulas, lines=lines)


def written(number: Number) -> str:
    """Value, spread and unit with every digit that the source gives."""
    value = numbers.count(number.value)
    spread = f" ± {numbers.count(number.spread)}" if number.spread is not None else ""
    return f"{value}{spread} {number.unit}".strip()
