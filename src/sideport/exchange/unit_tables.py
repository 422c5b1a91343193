"""Lens models, shelf, team, day and prices out of their sheets."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from ..day.readiness import LIMITS
from ..day.settings import DaySettings
from ..lens.model import LensModel
from ..risk.team import Surgeon
from ..shelf.box import Box
from ..wound.technique import Technique
from .catalogue import setting_by_name
from .cells import parse_cell
from .columns import normalised
from .figures import CellError
from .findings import Findings
from .rows import Row

__all__ = ["DayRead", "boxes", "lens_models", "prices", "read_day", "stock", "team"]

UNNAMED = "Unnamed unit"
LENS_CONSTANTS = ("pacd", "sf", "a0", "a1", "a2")


@dataclass(frozen=True, slots=True)
class DayRead:
    """The day sheet: the settings that ``DaySettings`` takes, and the one that only the reader needs."""

    settings: DaySettings | None
    """``None`` when no operating day could be read."""
    keratometer_index: float | None


def whole(row: Row, keys: Iterable[str]) -> dict[str, Any] | None:
    """The values of the essential cells, or ``None`` with each empty one listed."""
    values = {key: row.take(key) for key in keys}
    for key, value in values.items():
        label = row.bound[key].column
        if value is None and not row.text(key):
            row.set_aside(f"has no {label.heading}", f"{label.kind.value}: {label.explanation}".rstrip("."))
    return None if any(value is None for value in values.values()) else values


def lens_models(rows: Iterable[Row]) -> tuple[LensModel, ...]:
    """The lens models; a name that stands twice with different data is set aside both times.

    Parameters
    ----------
    rows : iterable of Row
        Of the lenses sheet.

    Returns
    -------
    tuple of LensModel
    """
    read: list[tuple[Row, str, LensModel]] = []
    for row in rows:
        values = whole(row, ("name", "a_constant", "placements", "foldable", "optic_mm", "incision_mm"))
        if values is None:
            continue
        constants = {key: value for key in LENS_CONSTANTS if (value := row.take(key)) is not None}
        count = row.take("results_n") or 0
        model = LensModel(**values, constants=constants, results_n=count, note=row.take("note") or "")
        read.append((row, normalised(model.name), model))
    return unique(read, "lens model")


def boxes(rows: Iterable[Row], *, models: Sequence[LensModel], day: date | None, findings: Findings) -> tuple[Box, ...]:
    """The boxes on the shelf; those of a model that no sheet describes are set aside.

    Parameters
    ----------
    rows : iterable of Row
        Of the shelf sheet.
    models : sequence of LensModel
        The models known.
    day : date or None
        Operating day, to count the boxes that are past their expiry; they stay on the shelf and are never given.
    findings : Findings
        Takes the count of expired boxes.

    Returns
    -------
    tuple of Box
    """
    names = {normalised(model.name): model.name for model in models}
    read: list[tuple[Row, str, Box]] = []
    for row in rows:
        values = whole(row, ("model", "power_d"))
        if values is None:
            continue
        name = names.get(normalised(values["model"]))
        if name is None:
            known = ", ".join(names.values()) or "none yet: fill the lenses sheet"
            row.set_aside(
                "is a lens model that the lenses sheet lacks", f"one of the models there ({known})", key="model"
            )
            continue
        box = box_of(row, name, values["power_d"])
        if box is not None:
            read.append((row, box.box_id.casefold(), box))
    kept = unique(read, "box")
    expired = [box.box_id for box in kept if day is not None and box.expires is not None and box.expires < day]
    if expired:
        shown = ", ".join(expired[:5]) + (", …" if len(expired) > 5 else "")
        findings.notes.append(f"Boxes past their expiry date, which will not be given: {len(expired)} ({shown}).")
    return kept


def box_of(row: Row, model: str, power_d: float) -> Box | None:
    """One box; a count or expiry that cannot be read sets the whole box aside, since neither may be guessed."""
    count = row.take("count")
    expires = row.take("expires")
    if (count is None and row.text("count")) or (expires is None and row.text("expires")):
        return None
    lot, serial = row.take("lot") or "", row.take("serial") or ""
    named = row.take("box_id") or serial or (f"{lot} {power_d:+.1f}" if lot else "")
    if not named:
        named = f"{model} {power_d:+.1f}" + (f" {expires:%Y-%m}" if expires else "")
    return Box(
        named,
        model,
        power_d,
        1 if count is None else count,
        expires,
        lot,
        serial,
        row.take("price"),
        row.take("location") or "",
    )


def team(rows: Iterable[Row]) -> tuple[Surgeon, ...]:
    """The people who may operate.

    Parameters
    ----------
    rows : iterable of Row
        Of the team sheet.

    Returns
    -------
    tuple of Surgeon
    """
    read: list[tuple[Row, str, Surgeon]] = []
    for row in rows:
        values = whole(row, ("name", "grade", "techniques"))
        if values is None:
            continue
        operations, tears = row.take("operations"), row.take("capsule_tears")
        if operations is not None and tears is not None and tears > operations:
            row.set_aside("are more tears than operations", "tears among the cases so far", key="capsule_tears")
            operations = tears = None
        hand = row.take("hand")
        surgeon = Surgeon(
            **values, operations=operations, capsule_tears=tears, minutes_msics=row.take("minutes_msics"),
            minutes_phaco=row.take("minutes_phaco"), right_handed=hand is not False,
            supervises=row.take("supervises") is True, cases_wanted=row.take("cases_wanted") or 0,
        )  # fmt: skip
        read.append((row, normalised(surgeon.name), surgeon))
    return unique(read, "surgeon")


def unique(read: Sequence[tuple[Row, str, Any]], thing: str) -> tuple[Any, ...]:
    """The things named once; a repeat is listed, and where repeats differ none is used."""
    by_name: dict[str, list[tuple[Row, Any]]] = defaultdict(list)
    for row, name, value in read:
        by_name[name].append((row, value))
    kept: list[Any] = []
    for rows in by_name.values():
        first_row, first = rows[0]
        if all(value == first for _, value in rows):
            kept.append(first)
            for row, _ in rows[1:]:
                row.set_aside(
                    f"repeats {first_row.place()}, which is used", f"one row a {thing}; raise the count if meant"
                )
        else:
            places = " and ".join(row.place() for row, _ in rows[:2])
            for row, _ in rows:
                row.set_aside(
                    f"names the same {thing} as another row but differs: {places}", f"its own name for each {thing}"
                )
    return tuple(kept)


def prices(rows: Iterable[Row]) -> dict[str, float]:
    """Price by kit item.

    Parameters
    ----------
    rows : iterable of Row
        Of the prices sheet.

    Returns
    -------
    dict of str to float
        In the unit's currency.
    """
    found: dict[str, float] = {}
    places: dict[str, Row] = {}
    for row in rows:
        if not row.text("price") and row.text("item"):
            continue
        values = whole(row, ("item", "price"))
        if values is None:
            continue
        name = normalised(values["item"])
        if name in places:
            row.set_aside(
                f"prices the item of {places[name].place()} again; the first is used", "one row an item", key="price"
            )
            continue
        places[name] = row
        found[values["item"]] = values["price"]
    return found


def stock(rows: Iterable[Row]) -> dict[str, float]:
    """How much the unit has, by kit item.

    Parameters
    ----------
    rows : iterable of Row
        Of the prices sheet; a blank cell is not counted, which is not the same as 0.

    Returns
    -------
    dict of str to float
        The first row of an item counts.
    """
    found: dict[str, float] = {}
    for row in rows:
        item, count = row.text("item"), row.take("in_stock") if "in_stock" in row.cells else None
        if item and count is not None:
            if count < 0:
                row.set_aside("is less than nothing in stock", "0 or more", key="in_stock")
            else:
                found.setdefault(item, count)
    return found


def read_day(
    rows: Iterable[Row], *, costs: dict[str, float], stock: dict[str, float], day: date | None, findings: Findings
) -> DayRead:
    """The day's settings.

    Parameters
    ----------
    rows : iterable of Row
        Of the day sheet.
    costs : dict of str to float
        The unit's prices.
    stock : dict of str to float
        What it has of each kit item.
    day : date or None
        An operating day that goes before the sheet's.
    findings : Findings
        Takes what is missing.

    Returns
    -------
    DayRead
    """
    values: dict[str, Any] = {}
    for row in rows:
        name = row.text("setting")
        column = setting_by_name().get(normalised(name))
        if column is None:
            known = ", ".join(dict.fromkeys(found.heading for found in setting_by_name().values()))
            row.set_aside(
                "is not a setting" if name else "names no setting", f"one of: {known}", key="setting" if name else ""
            )
            continue
        try:
            value = parse_cell(column, row.text("value"))
        except CellError as error:
            row.set_aside(error.why, error.accepted, key="value")
            continue
        if value is not None and values.setdefault(column.key, value) != value:
            row.set_aside(f"sets {column.heading} again; the first is used", "one row a setting", key="value")
    index = values.pop("keratometer_index", None)
    values["day"] = day or values.get("day")
    if values["day"] is None:
        return DayRead(None, index)
    if "unit" not in values:
        findings.notes.append("The day sheet names no unit; write the setting Unit to have it on the sheets.")
    return DayRead(settings_of({"unit": UNNAMED, **values}, costs, stock, findings), index)


def settings_of(
    values: dict[str, Any], costs: dict[str, float], stock: dict[str, float], findings: Findings
) -> DaySettings:
    """Settings that can be true together; a day that ends before it starts, or without a table, keeps the defaults."""
    usual = DaySettings(unit=values["unit"], day=values["day"])
    starts, ends = values.get("starts", usual.starts), values.get("ends", usual.ends)
    if ends <= starts:
        hours = f"{usual.starts:%H:%M} to {usual.ends:%H:%M}"
        why = f"ends at {ends:%H:%M}, not after its start at {starts:%H:%M}"
        findings.reject(file="day", why=why, accepted=f"an end after the start; planned with {hours}")
        values = {key: value for key, value in values.items() if key not in {"starts", "ends"}}
    if values.get("tables") == 0:
        findings.reject(file="day", why="has no operating table", accepted=f"1 or more; planned with {usual.tables}")
        values = {key: value for key, value in values.items() if key != "tables"}
    fees = {
        technique.value: fee
        for technique in Technique
        if (fee := values.pop(f"fee_{technique.name.lower()}", None)) is not None
    }
    sets = {
        technique.value: count
        for technique in Technique
        if (count := values.pop(f"sets_{technique.name.lower()}", None)) is not None
    }
    if values.pop("schedule_full", None):
        values["schedule_effort"] = "full"
    if values.get("learners_watched") == 0:
        findings.reject(file="day", why="has supervisors watch nobody", accepted="1 or more; planned with the usual")
        values.pop("learners_watched")
    limits = {key: limit for key in LIMITS if (limit := values.pop(f"limit_{key}", None)) is not None}
    return DaySettings(**values, costs=costs, stock=stock, fees=fees, limits=limits, instrument_sets=sets)
