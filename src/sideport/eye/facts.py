"""What was measured in one eye, gathered for the rules that judge it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..knowledge import Flag, Number, Severity
from ..optics.arrays import FloatArray
from ..optics.side import Side
from .belief import Belief
from .measurement import Method, Quantity
from .method import METHODS
from .person import Person
from .readings import QUANTITIES, SIDES, pair_keratometry, read_all

__all__ = ["EyeFacts", "KeratometryFacts", "flag_by", "flag_from", "gather", "method_words"]

PRECISION = (
    Method.OPTICAL,
    Method.IMMERSION_ULTRASOUND,
    Method.AUTO_KERATOMETER,
    Method.CONTACT_ULTRASOUND,
    Method.MANUAL_KERATOMETER,
    Method.CALLIPER,
    Method.UNKNOWN,
)
"""Best first: the method whose readings the rules look at where an eye has several."""


@dataclass(frozen=True, slots=True, eq=False)
class KeratometryFacts:
    """The pairs of meridians read in one eye; arrays of one length."""

    method: tuple[Method, ...]
    k1_d: FloatArray
    k2_d: FloatArray
    mean_d: FloatArray
    """NaN where a meridian stands alone."""
    astigmatism_d: FloatArray
    has_axis: NDArray[np.bool_]
    off_square_deg: FloatArray

    @property
    def best(self) -> NDArray[np.bool_]:
        """The whole pairs of the most precise method."""
        whole = ~np.isnan(self.mean_d)
        chosen = next((method for method in PRECISION if (whole & self.by(method)).any()), None)
        return whole & self.by(chosen) if chosen else np.zeros(len(self.method), dtype=bool)

    def by(self, method: Method) -> NDArray[np.bool_]:
        """Which pairs one method read."""
        return np.array([known is method for known in self.method], dtype=bool)


@dataclass(frozen=True, slots=True, eq=False)
class EyeFacts:
    """The readings of one eye and the belief about it."""

    side: Side
    listed: bool
    readings: dict[Quantity, dict[Method, FloatArray]]
    keratometry: KeratometryFacts
    mean: FloatArray
    sd: FloatArray
    population: str

    def best(self, quantity: Quantity) -> tuple[Method, FloatArray] | None:
        """The readings of the most precise method that read the quantity."""
        found = self.readings.get(quantity, {})
        return next(((method, found[method]) for method in PRECISION if method in found), None)


def gather(people: Sequence[Person], belief: Belief) -> list[dict[Side, EyeFacts]]:
    """The facts of both eyes of each person, also of an eye without a record."""
    readings = read_all(people)
    pairs = pair_keratometry(readings)
    edges = np.searchsorted(readings.person, np.arange(len(people) + 1))
    k_edges = np.searchsorted(pairs.person, np.arange(len(people) + 1))
    sds = np.sqrt(np.diagonal(belief.covariance, axis1=1, axis2=2))
    size = belief.mean.shape[1] // 2
    every: list[dict[Side, EyeFacts]] = []
    for index, person in enumerate(people):
        eyes: dict[Side, EyeFacts] = {}
        for place, side in enumerate(SIDES):
            found: dict[Quantity, dict[Method, list[float]]] = {}
            for row in range(edges[index], edges[index + 1]):
                if readings.side[row] == place:
                    by_method = found.setdefault(QUANTITIES[readings.quantity[row]], {})
                    by_method.setdefault(METHODS[readings.method[row]], []).append(float(readings.value[row]))
            rows = np.arange(k_edges[index], k_edges[index + 1])
            rows = rows[pairs.side[rows] == place]
            record = person.eye(side)
            own = slice(place * size, (place + 1) * size)
            eyes[side] = EyeFacts(
                side=side,
                listed=record is not None and record.listed,
                readings={
                    quantity: {method: np.array(values) for method, values in methods.items()}
                    for quantity, methods in found.items()
                },
                keratometry=KeratometryFacts(
                    method=tuple(METHODS[method] for method in pairs.method[rows]),
                    k1_d=pairs.k1_d[rows],
                    k2_d=pairs.k2_d[rows],
                    mean_d=pairs.vector.mean_d[rows],
                    astigmatism_d=np.abs(pairs.k2_d[rows] - pairs.k1_d[rows]),
                    has_axis=~(np.isnan(pairs.k1_axis_deg[rows]) & np.isnan(pairs.k2_axis_deg[rows])),
                    off_square_deg=pairs.vector.off_square_deg[rows],
                ),
                mean=belief.mean[index, own],
                sd=sds[index, own],
                population=belief.population,
            )
        every.append(eyes)
    return every


def flag_by(rule: Number, code: str, severity: Severity, message: str, action: str, value: float | None = None) -> Flag:
    """A flag that a published or practised limit raised."""
    return Flag(
        code=code,
        severity=severity,
        message=message,
        action=action,
        source=rule.source,
        basis=rule.basis,
        value=value,
        limit=rule.value,
        unit="" if rule.unit == "1" else rule.unit,
    )


def flag_from(
    origin: Number, code: str, severity: Severity, message: str, action: str, value: float | None = None, unit: str = ""
) -> Flag:
    """A flag that crosses no limit: ``origin`` is the number that stands behind what is said or assumed."""
    return Flag(code, severity, message, action, origin.source, origin.basis, value, None, unit)


def method_words(method: Method) -> str:
    """The method as it stands in a sentence."""
    return "unnamed-method" if method is Method.UNKNOWN else method.value
