"""Both eyes of one person on one day: two separate operations, and no lot in common."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..knowledge import Basis, Flag, Severity
from ..shelf.box import Box
from ..shelf.give import Given
from .case import ListedEye

__all__ = ["both_eyes_flags", "lots_apart"]

NONE = -1


def lots_apart(*, eyes: Sequence[ListedEye], given: Given, boxes: Sequence[Box], kept: Sequence[bool]) -> Given:
    """The same lenses from other boxes, where a person's two eyes would have lenses of one lot.

    Parameters
    ----------
    eyes : sequence of ListedEye
    given : Given
        Who gets what of the boxes.
    boxes : sequence of Box
    kept : sequence of bool
        Eyes whose box a person has fixed; it stays theirs.

    Returns
    -------
    Given
        Model and power of every eye are as before. A box with a lens to spare is taken first, else two eyes exchange
        theirs; where neither can be done the lot stays, and ``both_eyes_flags`` says so.
    """
    bag = given.bag_box.copy()
    fellow = dict(pairs(eyes))
    for one, other in fellow.items():
        for stays, moves in ((one, other), (other, one)):
            if clash(boxes, bag, stays, moves) and not kept[moves]:
                move(bag, given, boxes, stays, moves, fellow, kept)
    return replace(given, bag_box=bag)


def pairs(eyes: Sequence[ListedEye]) -> Iterator[tuple[int, int]]:
    """The places of each person's two listed eyes, once from each of them."""
    place = {(eye.person.person_id, eye.side): index for index, eye in enumerate(eyes)}
    for (person, side), index in place.items():
        if (person, side.other) in place:
            yield index, place[person, side.other]


def clash(boxes: Sequence[Box], bag: NDArray[np.intp], one: int, other: int) -> bool:
    """Whether two eyes have bag lenses of one lot."""
    return bag[one] != NONE and bag[other] != NONE and one_lot(boxes[bag[one]], boxes[bag[other]])


def one_lot(one: Box, other: Box) -> bool:
    """Whether two boxes are one, or of the same lot of a model."""
    return one.box_id == other.box_id or (bool(one.lot) and (one.model, one.lot) == (other.model, other.lot))


def move(
    bag: NDArray[np.intp], given: Given, boxes: Sequence[Box], stays: int, moves: int, fellow: dict[int, int],
    kept: Sequence[bool],
) -> None:  # fmt: skip
    """Takes an eye's lens from another box of the same lens, if there is one."""
    old, anchor = boxes[bag[moves]], boxes[bag[stays]]
    alike = [
        place
        for place, box in enumerate(boxes)
        if (box.model, box.power_d) == (old.model, old.power_d) and not one_lot(box, anchor)
    ]
    taken = np.bincount(np.concatenate([part[part != NONE] for part in (bag, given.backup_box)]), minlength=len(boxes))
    for place in alike:
        if taken[place] < boxes[place].count:
            bag[moves] = place
            return
    for place in alike:
        for holder in np.flatnonzero(bag == place):
            after = bag.copy()
            after[moves], after[holder] = place, bag[moves]
            sibling = fellow.get(int(holder))
            if not kept[int(holder)] and (sibling is None or not clash(boxes, after, int(holder), sibling)):
                bag[:] = after
                return


def both_eyes_flags(
    *, eyes: Sequence[ListedEye], wanted: Sequence[bool], given: Given, boxes: Sequence[Box]
) -> list[tuple[Flag, ...]]:
    """For each eye, a caution where its fellow is on the list too.

    Parameters
    ----------
    eyes : sequence of ListedEye
    wanted : sequence of bool
        Which of them are on the list.
    given : Given
    boxes : sequence of Box

    Returns
    -------
    list of tuple of Flag
        Says so where both lenses are of one lot because there is no other.
    """
    every: list[tuple[Flag, ...]] = [()] * len(eyes)
    for one, other in pairs(eyes):
        if wanted[one] and wanted[other]:
            message = "Both eyes of this person are on the list."
            if clash(boxes, given.bag_box, one, other):
                lot = boxes[given.bag_box[one]]
                name = f"lot {lot.lot}" if lot.lot else f"box {lot.box_id}"
                message += f" Both lenses are of {name}: the shelf has no other box of the same lens."
            every[one] = (caution(message),)
    return every


def caution(message: str) -> Flag:
    """Two separate operations."""
    action = (
        "Ask whether one eye can wait. If not, two separate operations: fresh scrub, gloves and drapes, another "
        "instrument set, and another lot of every fluid, drug and lens for the second eye."
    )
    return Flag("both-eyes-one-day", Severity.WARN, message, action, "practice", Basis.COMMON_PRACTICE)
