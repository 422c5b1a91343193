"""Where the lenses of one power went, so that a person may decide who needs one most."""

from collections.abc import Sequence
from dataclasses import dataclass

from ..shelf.box import Box
from ..shelf.give import Given
from ..shelf.words import power_words
from .case import ListedEye

__all__ = ["Whereabouts", "listed_words"]


@dataclass(frozen=True, slots=True)
class Whereabouts:
    """Who was given what of the usable boxes."""

    eyes: Sequence[ListedEye]
    boxes: Sequence[Box]
    given: Given

    def gone(self, *, model: str, power_d: float) -> str:
        """Who has the lenses of a power; empty when the shelf has none, or one to spare.

        Parameters
        ----------
        model : str
        power_d : float [D]

        Returns
        -------
        str
            ``Both Rigid A +20.0 D went to QI-101 R and QI-102 L (backup).``
        """
        alike = {
            place for place, box in enumerate(self.boxes) if box.model == model and abs(box.power_d - power_d) < 0.01
        }
        holders = [
            f"{eye.person.person_id} {eye.side.value[0].upper()}{words}"
            for boxes, words in ((self.given.bag_box, ""), (self.given.backup_box, " (backup)"))
            for eye, place in zip(self.eyes, boxes.tolist(), strict=True)
            if place in alike
        ]
        if not holders or len(holders) < sum(self.boxes[place].count for place in alike):
            return ""
        number = {1: "The one", 2: "Both"}.get(len(holders), f"All {len(holders)}")
        return f"{number} {model} {power_words(power_d)} went to {listed_words(holders)}."


def listed_words(names: Sequence[str]) -> str:
    """Names as a sentence lists them.

    Parameters
    ----------
    names : sequence of str

    Returns
    -------
    str

    Example
    -------
    >>> listed_words(["a", "b", "c"])
    'a, b and c'
    """
    return " and ".join(filter(None, (", ".join(names[:-1]), *names[-1:])))
