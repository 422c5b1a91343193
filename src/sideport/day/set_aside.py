"""What could not be read or was never measured: who is not on the list because of it, and what to mend."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

from ..eye.measurement import Quantity
from ..eye.person import Person
from ..knowledge import Basis, Flag, Severity
from ..optics.side import Side
from .plan import EyePlan, SetAside, TonightItem

__all__ = ["refused_length_flags", "set_aside_items", "stopped_without_length"]

MOST_PEOPLE = 40
"""People left out who are each named."""
MOST_OTHERS = 12
"""Other cells and rows that are each told."""
LIST = "All of them are in the list of what was set aside."


def set_aside_items(rows: Iterable[SetAside], eyes: Iterable[EyePlan]) -> tuple[TonightItem, ...]:
    """What to sort out tonight because of rows and cells that could not be read.

    Parameters
    ----------
    rows : iterable of SetAside
    eyes : iterable of EyePlan
        A row of a person or an eye among them is a cell or a repetition to mend; any other leaves somebody out.

    Returns
    -------
    tuple of TonightItem
        A stop for everybody who is not on the list, then warnings; a refused axial length is told by its eye's flag.
    """
    planned = {(plain(eye.person_id), eye.side): eye for eye in eyes}
    names = {person: eye.name for (person, _), eye in planned.items()}
    left_out: dict[tuple[str, Side | None], list[SetAside]] = {}
    others: list[tuple[SetAside, EyePlan | None]] = []
    for row in rows:
        person = plain(row.person_id)
        eye = None if row.side is None else planned.get((person, row.side))
        if row.left_out and eye is None and (person or row.name):
            side = row.side if person in names else None
            left_out.setdefault((person or plain(row.name), side), []).append(row)
        elif not (eye is not None and row.quantity == Quantity.AXIAL_LENGTH.value):
            others.append((row, eye))
    missing = {person for person, _ in left_out}
    others = [(row, eye) for row, eye in others if plain(row.person_id) not in missing]
    items = [left_out_item(rows_of, side) for (_, side), rows_of in list(left_out.items())[:MOST_PEOPLE]]
    if len(left_out) > MOST_PEOPLE:
        message = f"{len(left_out) - MOST_PEOPLE} more people or eyes are not on the list: their rows were set aside."
        items.append(TonightItem(Severity.STOP.value, None, message, f"{LIST} Mend the rows and plan again."))
    items += [mend_item(row, eye, names) for row, eye in others[:MOST_OTHERS]]
    if len(others) > MOST_OTHERS:
        message = f"{len(others) - MOST_OTHERS} more rows or cells were set aside."
        items.append(TonightItem(Severity.WARN.value, None, message, LIST))
    return tuple(items)


def left_out_item(rows: Sequence[SetAside], side: Side | None) -> TonightItem:
    """Somebody whom the plan does not know of."""
    first = rows[0]
    who = " ".join(filter(None, (first.person_id, first.name, f"{side.value.upper()} eye" if side else "")))
    more = f" ({len(rows) - 1} more of these rows)" if len(rows) > 1 else ""
    message = f"Not on the list: {who}. {first.where}: {first.what}{more}."
    action = f"Mend the row and plan again, or decide and tell the patient. Accepted: {first.accepted}."
    return TonightItem(Severity.STOP.value, None, message, action)


def mend_item(row: SetAside, eye: EyePlan | None, names: dict[str, str]) -> TonightItem:
    """Something planned without; told beside its eye where there is one."""
    name = row.name or names.get(plain(row.person_id), "")
    who = "" if eye is not None else " ".join(filter(None, (row.person_id, name)))
    message = f"Planned without {row.where}{f' ({who})' if who else ''}: {row.what}."
    key = None if eye is None else eye.key
    return TonightItem(Severity.WARN.value, key, message, f"Mend it and plan again. Accepted: {row.accepted}.")


def refused_length_flags(rows: Iterable[SetAside], person: Person, side: Side) -> tuple[Flag, ...]:
    """One flag for an eye whose axial length, or part of its readings, could not be read.

    Parameters
    ----------
    rows : iterable of SetAside
    person : Person
    side : Side

    Returns
    -------
    tuple of Flag
        Empty where every reading was read.
    """
    number = plain(person.person_id)
    refused = [
        row
        for row in rows
        if row.side is side and row.quantity == Quantity.AXIAL_LENGTH.value and plain(row.person_id) == number
    ]
    if not refused:
        return ()
    cells = "; ".join(f"{row.where}: {row.what}" for row in refused)
    several = "An axial length" if len(refused) == 1 else f"{len(refused)} axial lengths"
    message = f"{several} written down for the {side.value} eye could not be used. {cells}."
    action = f"Mend it and plan again, or measure again. Accepted: {refused[0].accepted}."
    return (Flag("axial-length-set-aside", Severity.WARN, message, action, "practice", Basis.COMMON_PRACTICE),)


def stopped_without_length(flags: Iterable[Flag]) -> tuple[Flag, ...]:
    """The flags of an eye on the list, with a stop where neither eye has any axial length.

    Parameters
    ----------
    flags : iterable of Flag

    Returns
    -------
    tuple of Flag
        In the same order. A lens for the population's eye is a guess: nobody opens it before the length is measured.
    """
    return tuple(
        replace(flag, severity=Severity.STOP) if flag.code == "axial-length-missing" else flag for flag in flags
    )


def plain(text: str) -> str:
    """A number or name without case and spacing, as the reader compares them."""
    return "".join(text.casefold().split())
