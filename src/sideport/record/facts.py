"""From entries to the facts they leave standing: corrections applied, withdrawals obeyed, rivals named."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from .entry import Entry
from .kinds import Kind, known, payload_of

__all__ = ["Fact", "facts_of", "union"]


@dataclass(frozen=True, slots=True)
class Fact:
    """One fact as it stands now."""

    first: Entry
    """The entry that first said it; its stamp is the fact's place in time."""
    entry: Entry
    """The entry that holds now."""
    said: Any
    """What that entry says."""
    rivals: tuple[Entry, ...]
    """Corrections made without knowledge of the one that holds, and saying something else."""
    leaves: tuple[Entry, ...]
    """What is said now and was not set aside by a settlement, the entry that holds last."""
    before: tuple[Entry, ...]
    """What was said earlier and has been corrected."""

    @property
    def kind(self) -> Kind:
        """What kind of fact it is: that of its first entry."""
        return Kind(self.first.kind)


def union(*journals: Iterable[Entry]) -> tuple[Entry, ...]:
    """The entries of several journals, each once, in the order of their stamps.

    Parameters
    ----------
    *journals : iterable of Entry
        In any order, overlapping or not.

    Returns
    -------
    tuple of Entry
        The same for any order of journals and any repetition of them.
    """
    merged = {entry.entry_id: entry for journal in journals for entry in journal}
    return tuple(sorted(merged.values(), key=lambda entry: entry.order))


def facts_of(entries: Sequence[Entry]) -> tuple[Fact, ...]:
    """The facts that entries leave standing.

    Parameters
    ----------
    entries : sequence of Entry
        All that bears on one subject, in the order of their stamps.

    Returns
    -------
    tuple of Fact
        In the order in which they were first said. Withdrawn ones are missing, as are entries of a newer program.

    Notes
    -----
    Corrections form a tree under the entry that they correct. Its leaves are what is said now; usually there is one.
    Of several leaves, written on devices that had not met, the latest holds and the others are rivals until a person
    settles which stands. A leaf that withdraws ends the fact.
    """
    readable = [entry for entry in entries if known(entry)]
    aside = set_aside(readable)
    found = [fact_of(tree, aside) for tree in trees(readable)]
    return tuple(fact for fact in found if fact is not None)


def set_aside(entries: Sequence[Entry]) -> set[str]:
    """Entries that a settlement decided against; a later settlement may bring one back."""
    aside: set[str] = set()
    for entry in entries:
        if entry.kind == Kind.CONFLICT_SETTLED:
            said = payload_of(entry)
            if said.keep in said.entries:
                aside = (aside | set(said.entries)) - {said.keep}
    return aside


def trees(entries: Sequence[Entry]) -> list[list[Entry]]:
    """Entries with all their corrections, each tree in order, by the order of their first entries."""
    first: dict[str, str] = {}
    grown: dict[str, list[Entry]] = defaultdict(list)
    for entry in entries:
        if entry.kind == Kind.CONFLICT_SETTLED:
            continue
        first[entry.entry_id] = first.get(entry.corrects or "", entry.entry_id)
        grown[first[entry.entry_id]].append(entry)
    return list(grown.values())


def fact_of(tree: Sequence[Entry], aside: set[str]) -> Fact | None:
    """The fact that a tree of corrections leaves, or ``None`` when it was withdrawn or set aside."""
    corrected = {entry.corrects for entry in tree}
    leaves = [entry for entry in tree if entry.entry_id not in corrected | aside]
    if not leaves or leaves[-1].kind == Kind.FACT_WITHDRAWN:
        return None
    holds = leaves[-1]
    rivals = tuple(leaf for leaf in leaves[:-1] if leaf.payload != holds.payload)
    before = tuple(entry for entry in tree if entry.entry_id in corrected)
    return Fact(tree[0], holds, payload_of(holds), rivals, tuple(leaves), before)
