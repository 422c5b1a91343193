"""What is asked at the three pauses: after the WHO surgical safety checklist, in our words, with local additions."""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error

from ...errors import ImpossibleInputError
from ...knowledge.number import Basis
from ...record.theatre_said import Pause

__all__ = ["LOCAL_FILE", "PAUSES", "SOURCE", "Item", "PauseCard", "check_local_items", "items_of"]

SOURCE, BASIS = "who2009checklist", Basis.RECALLED
LOCAL_FILE = "checklist.toml"
LONGEST_WORDS = 300


@dataclass(frozen=True, slots=True)
class Item:
    """One question of a pause."""

    name: str
    """Short and stable: it is kept with the answer."""
    words: str
    may_not_apply: bool = False
    local: bool = False
    """Added by the unit."""


@dataclass(frozen=True, slots=True)
class PauseCard:
    """One pause."""

    pause: Pause
    title: str
    when: str
    items: tuple[Item, ...]


PAUSES: Mapping[Pause, PauseCard] = {
    card.pause: card
    for card in (
        PauseCard(Pause.SIGN_IN, "Sign-in", "before the anaesthetic", (
            Item("consent", "The patient told you in their own words which eye is operated on and why, "
                 "and has signed for exactly that."),
            Item("mark", "The mark is above the eye that the patient named."),
            Item("allergy", "You asked about allergies; what you heard is in the note."),
            Item("body", "Blood thinners, sugar and pressure were looked at, and nothing speaks against going on."),
            Item("anaesthetic", "The anaesthetic is labelled, and the patient can be watched and helped to breathe."),
        )),
        PauseCard(Pause.TIME_OUT, "Time-out", "before the first cut", (
            Item("team", "Everybody in the room knows everybody's name and task."),
            Item("lens", "Lens and backup lie ready; power, place and expiry were read aloud from the boxes "
                 "and from this patient's own sheet."),
            Item("clean", "Eye and lids were cleaned with antiseptic, and the lashes are under the drape."),
            Item("sterile", "The indicator says that the instruments are sterile."),
            Item("expected", "The surgeon said what may be hard in this eye, and what lies ready for it."),
        )),
        PauseCard(Pause.SIGN_OUT, "Sign-out", "before the patient leaves the table", (
            Item("counted", "Blades, needles, swabs and instruments were counted, and none is missing."),
            Item("recorded", "Operation, side and lens are recorded as they really were."),
            Item("broken", "What failed or was missing was told to whoever mends it.", may_not_apply=True),
            Item("after", "What this patient needs now was said aloud: drops, shield, pressure, next visit."),
        )),
    )
}  # fmt: skip


def items_of(pause: Pause) -> tuple[Item, ...]:
    """The questions of a pause, the unit's own last."""
    return PAUSES[pause].items + tuple(item for where, item in local_items() if where is pause)


def local_items() -> tuple[tuple[Pause, Item], ...]:
    """The unit's own additions, from ``checklist.toml`` in the data folder.

    Raises
    ------
    ImpossibleInputError
        When the file is there and cannot be read, with what to mend.
    """
    folder: Path | None = settings.DATA
    path = folder / LOCAL_FILE if folder is not None else None
    if path is None or not path.exists():
        return ()
    return read_items(path, path.stat().st_mtime_ns)


@lru_cache(maxsize=4)
def read_items(path: Path, changed: int) -> tuple[tuple[Pause, Item], ...]:
    """The additions of a file, read anew when it has changed."""
    del changed
    try:
        with path.open("rb") as file:
            rows = tomllib.load(file).get("item", [])
    except (OSError, ValueError) as error:
        raise ImpossibleInputError(f"{LOCAL_FILE} cannot be read: {error}.") from None
    found = tuple(item_of(row, place) for place, row in enumerate(rows, start=1))
    names = [item.name for _, item in found] + [item.name for card in PAUSES.values() for item in card.items]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise ImpossibleInputError(f"{LOCAL_FILE} uses these names twice: {', '.join(twice)}.")
    return found


def item_of(row: Any, place: int) -> tuple[Pause, Item]:
    """One addition."""
    words = row.get("words", "") if isinstance(row, dict) else ""
    name = row.get("name", "") if isinstance(row, dict) else ""
    well_named = isinstance(name, str) and name.isascii() and name.replace("-", "").isalnum()
    if not well_named or not isinstance(words, str) or not 0 < len(words) <= LONGEST_WORDS:
        raise ImpossibleInputError(
            f"Item {place} of {LOCAL_FILE} needs a name (letters, digits, hyphens) and words (up to {LONGEST_WORDS})."
        )
    try:
        pause = Pause(row.get("pause"))
    except ValueError:
        names = ", ".join(each.value for each in Pause)
        raise ImpossibleInputError(f"Item {place} of {LOCAL_FILE} needs a pause, one of: {names}.") from None
    return pause, Item(name, words, may_not_apply=bool(row.get("may_not_apply", False)), local=True)


def check_local_items(app_configs: Sequence[Any] | None, **kwargs: Any) -> list[CheckMessage]:
    """A system check: the additions can be read."""
    del app_configs, kwargs
    try:
        local_items()
    except ImpossibleInputError as error:
        return [Error(str(error), hint="docs/how-to/theatre.md shows the form.", id="sideport.E010")]
    return []
