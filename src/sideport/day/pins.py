"""What a person has fixed by hand, around which the rest of the day is planned."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import time

from ..errors import ImpossibleInputError
from ..knowledge import Basis, Effect, Reason
from ..risk.advice import TechniqueAdvice
from ..risk.team import Surgeon
from ..shelf.box import Box
from ..wound.technique import Technique

__all__ = ["Pin", "check_pins", "pin_for", "pin_words", "technique_by_hand"]


@dataclass(frozen=True, slots=True)
class Pin:
    """One eye's choices that the plan must keep; what is ``None`` stays open."""

    eye_key: str
    """As the plan calls the eye."""
    operator: str | None = None
    """Name on the team."""
    technique: Technique | None = None
    box_id: str | None = None
    """The box whose lens goes into the bag."""
    table: int | None = None
    """1 for the first table."""
    starts: time | None = None


def pin_for(pins: Iterable[Pin], eye_key: str) -> Pin:
    """What is fixed for one eye.

    Parameters
    ----------
    pins : iterable of Pin
    eye_key : str

    Returns
    -------
    Pin
        Of several for one eye, each later one goes before the earlier ones in what it fixes; open where there is none.
    """
    found = Pin(eye_key)
    for pin in pins:
        if pin.eye_key == eye_key:
            fixed = {name: value for name in PARTS if (value := getattr(pin, name)) is not None}
            found = replace(found, **fixed)
    return found


PARTS = ("operator", "technique", "box_id", "table", "starts")


def check_pins(pins: Iterable[Pin], *, team: Sequence[Surgeon], boxes: Sequence[Box], tables: int) -> None:
    """Refuses pins that nothing can keep.

    Parameters
    ----------
    pins : iterable of Pin
    team : sequence of Surgeon
    boxes : sequence of Box
        Those that may be used on the day.
    tables : int

    Raises
    ------
    ImpossibleInputError
        On an operator who is not on the team, a box that is not on the shelf or given out more often than it holds, or
        a table that is not in use.
    """
    names, counts = {surgeon.name for surgeon in team}, {box.box_id: box.count for box in boxes}
    taken: dict[str, set[str]] = {}
    for pin in pins:
        if pin.operator is not None and pin.operator not in names:
            raise ImpossibleInputError("A pin names an operator who is not on the team; choose one of the team.")
        if pin.table is not None and not 1 <= pin.table <= tables:
            raise ImpossibleInputError(f"A pin names table {pin.table}; choose one of 1 to {tables}.")
        if pin.box_id is not None:
            taken.setdefault(pin.box_id, set()).add(pin.eye_key)
            if counts.get(pin.box_id, 0) < len(taken[pin.box_id]):
                raise ImpossibleInputError(
                    f"Box {pin.box_id} is pinned to {len(taken[pin.box_id])} eye(s) but holds "
                    f"{counts.get(pin.box_id, 0)} that may be used; choose another box."
                )


def pin_words(pin: Pin) -> str:
    """What a pin fixes, for the screen.

    Parameters
    ----------
    pin : Pin

    Returns
    -------
    str
        ``operator Dr Sen, table 2``; ``nothing`` for an open one.
    """
    parts = [
        None if pin.operator is None else f"operator {pin.operator}",
        None if pin.technique is None else pin.technique.value,
        None if pin.box_id is None else f"box {pin.box_id} for the BAG",
        None if pin.table is None else f"table {pin.table}",
        None if pin.starts is None else f"start {pin.starts:%H:%M}",
    ]
    return ", ".join(part for part in parts if part) or "nothing"


def technique_by_hand(advice: TechniqueAdvice, technique: Technique | None) -> TechniqueAdvice:
    """The advice with the operation that a person has fixed.

    Parameters
    ----------
    advice : TechniqueAdvice
    technique : Technique or None
        ``None`` leaves the advice as it is.

    Returns
    -------
    TechniqueAdvice
        Says that it was fixed by hand and what the advice had been; the arguments of the fixed operation stand first.
    """
    if technique is None or technique is advice.suggested:
        return advice
    text = f"Fixed by hand as {technique.value}; the advice was {advice.suggested.value}."
    fixed = Reason(text, Effect.NEUTRAL, "unit", Basis.COMMON_PRACTICE)
    options = tuple(sorted(advice.options, key=lambda option: option.technique is not technique))
    argued = next((option.reasons for option in options if option.technique is technique), ())
    return TechniqueAdvice(technique, (fixed, *argued), advice.suggested, options)
