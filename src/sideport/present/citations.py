"""Numbers for the works that the printed sheets name: a page carries the figure, the last page the citation."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from ..knowledge import Basis, load_published

__all__ = ["Citations", "PageCitations", "cited_once"]

BASIS_WORDS = {
    Basis.PUBLISHED: "read",
    Basis.RECALLED: "from memory",
    Basis.COMMON_PRACTICE: "common practice",
}
UNPRINTED = {"practice", "unit"}
"""Origins that are no work; their basis says all."""


@dataclass(slots=True)
class Citations:
    """The works of a whole file, numbered as they first appear; a work read and the same from memory differ."""

    numbers: dict[tuple[str, Basis], int] = field(default_factory=dict)

    def number(self, source: str, basis: Basis) -> int:
        """The number of a work, given on first use."""
        return self.numbers.setdefault((source, basis), len(self.numbers) + 1)

    def rows(self) -> list[list[str]]:
        """Number, key, how far it may be trusted and citation of every work used."""
        known = load_published().sources
        return [
            [str(number), key, BASIS_WORDS[basis], known[key].citation if key in known else "not in the bibliography"]
            for (key, basis), number in self.numbers.items()
        ]


@dataclass(slots=True)
class PageCitations:
    """The works of one page."""

    whole: Citations
    used: set[tuple[str, Basis]] = field(default_factory=set)

    def mark(self, source: str, basis: Basis) -> str:
        """The figure that stands behind a statement."""
        self.used.add((source, basis))
        return str(self.whole.number(source, basis))

    def line(self) -> str:
        """Every figure on the page with its key; what is from memory says so."""
        found = sorted({self.whole.numbers[pair]: pair for pair in self.used}.items())
        return "; ".join(f"{number} {short_origin(*pair)}" for number, pair in found)


def short_origin(source: str, basis: Basis) -> str:
    """The key, with the basis where the work itself was not read; the basis alone where there is no work."""
    if source == "unit":
        return "the unit's setting"
    if source in UNPRINTED:
        return basis.value
    return f"{source}, {basis.value}" if basis is not Basis.PUBLISHED else source


def cited_once(items: Sequence[Mapping[str, str]]) -> list[dict[str, str]]:
    """Neighbours with one source bear its figure once, behind the last of them.

    Parameters
    ----------
    items : sequence of mapping
        Each with its figure under ``cite``.

    Returns
    -------
    list of dict
        The same, with an empty figure where the next has the same.
    """
    nexts = [*(item["cite"] for item in items[1:]), ""][: len(items)]
    return [
        {**item, "cite": "" if item["cite"] == after else item["cite"]}
        for item, after in zip(items, nexts, strict=True)
    ]
