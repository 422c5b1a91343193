"""How wrong each way of measuring is, from ``measurement_methods.toml``."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..errors import KnowledgeError
from ..knowledge import Knowledge
from ..optics.arrays import FloatArray
from .coordinates import COORDINATES, Coordinate
from .measurement import Method

__all__ = ["METHODS", "MethodErrors", "load_method_errors", "method_key"]

METHODS: tuple[Method, ...] = tuple(Method)
TABLES = {Coordinate.J0: "astigmatism", Coordinate.J45: "astigmatism"}


@dataclass(frozen=True, slots=True, eq=False)
class MethodErrors:
    """Errors by method (row, in the order of ``METHODS``) and quantity (column, in the order of ``COORDINATES``)."""

    bias: FloatArray
    """What the method reads minus the truth."""
    shared_variance: FloatArray
    """Of the operator and instrument: common to both eyes of a person."""
    session_variance: FloatArray
    """Of one eye in one session: common to its repeats."""
    repeat_variance: FloatArray
    """Of one reading."""
    measures: NDArray[np.bool_]
    """False where the method has no published error for the quantity and that of ``UNKNOWN`` stands in."""


def method_key(method: Method) -> str:
    """The method's table in ``measurement_methods.toml``."""
    return method.value.replace(" ", "_")


def load_method_errors(knowledge: Knowledge) -> MethodErrors:
    """The error model of every method.

    Raises
    ------
    KnowledgeError
        When a quantity lacks an entry for the unknown method, or spreads contradict each other (a repeat wider than a
        session).
    """
    shape = (len(METHODS), len(COORDINATES))
    parts = {name: np.zeros(shape) for name in ("bias", "shared", "session", "repeat")}
    measures = np.zeros(shape, dtype=bool)
    for row, method in enumerate(METHODS):
        for coordinate in Coordinate:
            stem = f"measurement_methods.{method_key(method)}.{TABLES.get(coordinate, coordinate.name.lower())}"
            measures[row, coordinate] = f"{stem}.bias" in knowledge.numbers
            if not measures[row, coordinate]:
                stem = f"measurement_methods.unknown.{TABLES.get(coordinate, coordinate.name.lower())}"
            for name, value in zip(parts, split_variance(stem, knowledge), strict=True):
                parts[name][row, coordinate] = value
    return MethodErrors(
        bias=parts["bias"],
        shared_variance=parts["shared"],
        session_variance=parts["session"],
        repeat_variance=parts["repeat"],
        measures=measures,
    )


def split_variance(stem: str, knowledge: Knowledge) -> tuple[float, float, float, float]:
    """Bias and the shared, session and repeat parts of the published spread."""
    bias = knowledge.number(f"{stem}.bias")
    repeat = knowledge.value(f"{stem}.repeat_sd") ** 2
    session = knowledge.value(f"{stem}.session_sd") ** 2 if f"{stem}.session_sd" in knowledge.numbers else repeat
    if bias.spread is None or not repeat <= session <= bias.spread**2 * (1 + 1e-12):
        raise KnowledgeError(
            f"{stem}: the spread of the bias must be no less than session_sd, and that no less than repeat_sd."
        )
    return bias.value, max(bias.spread**2 - session, 0.0), session - repeat, repeat
