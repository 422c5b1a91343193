"""Writes the projections: the rows of the subjects that were touched, or all of them anew."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from typing import TypeVar

from ...record.entry import Entry
from ...record.kinds import mentions
from ...record.subject import root_of
from . import tables
from .models import JournalEntry, Mention
from .projections import rows_of
from .tables import Projected

__all__ = ["PROJECTED", "clear_projections", "mention_all", "note_mentions", "project"]

T = TypeVar("T")
PROJECTED: tuple[type[Projected], ...] = (
    tables.Person, tables.Eye, tables.Measurement, tables.ListedEye, tables.Box, tables.StockMove, tables.Surgeon,
    tables.LensModel, tables.Day, tables.Plan, tables.Operation, tables.OperationEvent, tables.Visit, tables.Task,
)  # fmt: skip
"""What others hang on comes first."""
BATCH = 200
"""Subjects that are worked out together."""


def batches(items: Iterable[T], size: int) -> Iterator[list[T]]:
    """Items by the handful."""
    source = iter(items)
    while batch := list(islice(source, size)):
        yield batch


def note_mentions(entries: Sequence[Entry]) -> dict[str, tuple[str, str]]:
    """Notes which subjects new entries bear on.

    Returns
    -------
    dict of str to (str, str)
        The subjects touched: unit and name by root.
    """
    own = {entry.entry_id: entry for entry in entries}
    corrected = [entry.corrects for entry in entries if entry.corrects and entry.corrects not in own]
    bearing: dict[str, dict[str, tuple[str, str]]] = defaultdict(dict)
    for entry_id, root in Mention.objects.filter(entry_id__in=corrected).values_list("entry_id", "root"):
        bearing[entry_id][root] = ("", "")
    touched: dict[str, tuple[str, str]] = {}
    rows = []
    for entry in entries:
        names = {root_of(entry.unit, name): (entry.unit, name) for name in (entry.subject, *mentions(entry))}
        bearing[entry.entry_id] = {**bearing.get(entry.corrects or "", {}), **names}
        rows += [Mention(root=root, entry_id=entry.entry_id) for root in bearing[entry.entry_id]]
        touched |= {root: name for root, name in bearing[entry.entry_id].items() if name[1] or root not in touched}
    Mention.objects.bulk_create(rows, ignore_conflicts=True, batch_size=2000)
    return touched


def project(touched: Iterable[tuple[str, tuple[str, str]]]) -> None:
    """Works out the rows of subjects anew and puts them in place of the old ones."""
    for batch in batches(touched, BATCH):
        names = dict(batch)
        entries: dict[str, list[Entry]] = defaultdict(list)
        bearing = Mention.objects.filter(root__in=names).select_related("entry").order_by("root", "entry__stamp")
        for mention in bearing:
            entries[mention.root].append(mention.entry.entry())
        rows: dict[type[Projected], list[Projected]] = defaultdict(list)
        for root, those in entries.items():
            unit, name = named(root, names[root], those)
            for row in rows_of(unit=unit, name=name, entries=those):
                rows[type(row)].append(row)
        replace_rows(list(names), rows)


def named(root: str, name: tuple[str, str], entries: Sequence[Entry]) -> tuple[str, str]:
    """Unit and name of a root; one that is known only by its digest is found among what its entries mention."""
    if name[1]:
        return name
    candidates = ((entry.unit, each) for entry in entries for each in (entry.subject, *mentions(entry)))
    return next(candidate for candidate in candidates if root_of(*candidate) == root)


def replace_rows(roots: list[str], rows: dict[type[Projected], list[Projected]]) -> None:
    """Puts rows in place; those that are there keep their place, so that other tables may point at them."""
    for model in reversed(PROJECTED):
        there = model._default_manager.filter(root__in=roots).values_list("pk", flat=True)
        gone = set(there).difference(row.pk for row in rows[model])
        for batch in batches(sorted(gone), BATCH):
            model._default_manager.filter(pk__in=batch).delete()
    for model in PROJECTED:
        fields = [field.name for field in model._meta.concrete_fields if not field.primary_key]
        model._default_manager.bulk_create(
            rows[model], update_conflicts=True, unique_fields=["key"], update_fields=fields, batch_size=500
        )


def clear_projections() -> None:
    """Empties every table that is made from the journal."""
    for model in reversed(PROJECTED):
        model._default_manager.all().delete()
    Mention.objects.all().delete()


def mention_all() -> list[tuple[str, tuple[str, str]]]:
    """Notes the mentions of the whole journal, in the order of the stamps; returns every subject, sorted."""
    touched: dict[str, tuple[str, str]] = {}
    stored = JournalEntry.objects.order_by("stamp").iterator(chunk_size=1000)
    for batch in batches(stored, 1000):
        touched |= {
            root: name
            for root, name in note_mentions([row.entry() for row in batch]).items()
            if name[1] or root not in touched
        }
    return sorted(touched.items())
