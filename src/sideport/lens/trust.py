"""Which formula to trust in which eye: published choices by axial length, and what to say where they disagree."""

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..errors import ImpossibleInputError
from ..knowledge import Basis, Flag, Knowledge, Severity
from ..optics.arrays import FloatArray
from .formula import Biometry
from .registry import FORMULAS
from .srk_t import corneal_height_undefined

__all__ = ["AUTO", "Trust", "disagreement_flag", "formula_for", "formula_policies", "range_flags", "stand_in_flag"]

AUTO = "hoffer1993"
"""The published choice that ``auto`` stands for."""


@dataclass(frozen=True, slots=True)
class Trust:
    """How much each formula counts in each eye."""

    keys: tuple[str, ...]
    weights: FloatArray
    """Shape (formulas, eyes); sums to 1 over the formulas, all NaN for an eye without axial length or keratometry."""

    @property
    def labels(self) -> tuple[str, ...]:
        """One text an eye: ``holladay-1``, or ``srk-t + holladay-1 + hoffer-q`` where the mean of several is taken."""
        patterns, member = self.patterns()
        texts = [" + ".join(key for key, chosen in zip(self.keys, row, strict=True) if chosen) for row in patterns]
        return tuple(texts[which] for which in member.tolist())

    def patterns(self) -> tuple[NDArray[np.bool_], NDArray[np.intp]]:
        """Which formulas count, once for each combination, shape (k, formulas), and the combination of each eye."""
        counted = self.weights > 0
        code, first, member = np.unique(
            2 ** np.arange(len(self.keys)) @ counted, return_index=True, return_inverse=True
        )  # fmt: skip
        return counted[:, first].T.reshape(len(code), len(self.keys)), member


@dataclass(frozen=True, slots=True)
class Band:
    """A stretch of axial lengths and the rank of each formula in it."""

    upper_mm: float
    includes_upper: bool
    ranks: dict[str, float]


def formula_for(*, biometry: Biometry, available: Collection[str], policy: str, knowledge: Knowledge) -> Trust:
    """The weight of every available formula in every eye.

    Parameters
    ----------
    biometry : Biometry
        One-dimensional arrays, shape (n,): axial length [mm], mean keratometry [D], chamber depth [mm] or NaN.
    available : collection of str
        Formulas for which the lens model has constants.
    policy : str
        ``auto``, a published choice in ``formula_choice.toml``, or the key of one formula.
    knowledge : Knowledge

    Returns
    -------
    Trust
        Formulas in the order of the registry.

    Raises
    ------
    ImpossibleInputError
        On a policy that is neither a published choice nor a formula.

    Notes
    -----
    Within its band an eye takes the mean of the formulas of the lowest rank that can be run there. A formula that needs
    the chamber depth cannot be run where that is NaN. T2 takes the place of SRK/T where SRK/T's corneal height has no
    real value. Where nothing of the policy can be run, SRK/T (or T2) is used: its constant always exists.

    References
    ----------
    hoffer1993 (the default); rcophth2010 and nice2017 from memory.
    """
    length, mean_k, depth = np.broadcast_arrays(
        *(np.asarray(value, dtype=np.float64) for value in (biometry.axial_length_mm, biometry.mean_k_d)),
        np.asarray(biometry.chamber_depth_mm, dtype=np.float64),
    )
    keys = tuple(key for key in FORMULAS if key in set(available) | {"srk-t", "t2"})
    runnable = np.array([
        np.full(length.shape, key in available) & (np.isfinite(depth) | (not FORMULAS[key].needs_chamber_depth))
        for key in keys
    ])  # fmt: skip
    ranks = band_ranks(length, keys, policy_bands(policy, knowledge))
    ranks[~runnable] = np.inf
    best = ranks.min(axis=0)
    weights = np.where(np.isfinite(best), ranks == best, np.array(keys)[:, None] == "srk-t").astype(np.float64)
    weights /= weights.sum(axis=0)
    swap_undefined_height(weights, keys, Biometry(length, mean_k, depth))
    weights[:, ~(np.isfinite(length) & np.isfinite(mean_k))] = np.nan
    return Trust(keys=keys, weights=weights)


def swap_undefined_height(weights: FloatArray, keys: tuple[str, ...], biometry: Biometry) -> None:
    """Gives SRK/T's weight to T2, in place, where SRK/T's corneal height has no real value."""
    undefined = np.broadcast_to(corneal_height_undefined(biometry), weights.shape[1:])
    old, new = weights[keys.index("srk-t")], weights[keys.index("t2")]
    new[undefined] += old[undefined]
    old[undefined] = 0.0


def formula_policies(knowledge: Knowledge) -> tuple[str, ...]:
    """The published choices of a formula by axial length.

    Parameters
    ----------
    knowledge : Knowledge
        Holds ``formula_choice.toml``.

    Returns
    -------
    tuple of str
        Their names, as a unit's settings take them.
    """
    names = dict.fromkeys(key.partition(".")[0] for key in knowledge.table("formula_choice"))
    return tuple(name for name in names if name != "limits")


def policy_bands(policy: str, knowledge: Knowledge) -> tuple[Band, ...]:
    """The bands of a policy, shortest eyes first; a single formula is one band without end."""
    name = AUTO if policy == "auto" else policy
    modern = [key for key, formula in FORMULAS.items() if not formula.historical]
    if name in modern:
        return (Band(np.inf, True, {name: 1.0}),)
    prefix = f"formula_choice.{name}."
    entries = {key.removeprefix(prefix): number for key, number in knowledge.numbers.items() if key.startswith(prefix)}
    if not entries or name == "limits":
        raise ImpossibleInputError(
            f"There is no choice of formula called {policy!r}; write auto, {', '.join(formula_policies(knowledge))} "
            f"or one formula: {', '.join(modern)}."
        )
    bands = []
    for band in dict.fromkeys(key.partition(".")[0] for key in entries):
        upper = entries.get(f"{band}.upper_mm") or entries.get(f"{band}.below_mm")
        use = f"{band}.use."
        bands.append(
            Band(
                upper_mm=upper.value if upper else np.inf,
                includes_upper=f"{band}.below_mm" not in entries,
                ranks={key.removeprefix(use): entry.value for key, entry in entries.items() if key.startswith(use)},
            )
        )
    return tuple(sorted(bands, key=lambda band: band.upper_mm))


def band_ranks(length: FloatArray, keys: tuple[str, ...], bands: tuple[Band, ...]) -> FloatArray:
    """The rank of every formula in every eye, infinite where the policy does not name it."""
    ranks = np.full((len(keys), *length.shape), np.inf)
    taken = np.zeros(length.shape, dtype=np.bool_)
    for band in bands:
        inside = ~taken & ((length <= band.upper_mm) if band.includes_upper else (length < band.upper_mm))
        taken |= inside
        for row, key in enumerate(keys):
            ranks[row, inside] = band.ranks.get(key, np.inf)
    return ranks


def stand_in_flag(*, policy: str, keys: Collection[str]) -> Flag | None:
    """Says so when the one formula that the unit chose could not be run and another stands in its place.

    Parameters
    ----------
    policy : str
        As the unit set it; a published choice asks for nothing in particular.
    keys : collection of str
        The formulas that the plan of this eye stands on.

    Returns
    -------
    Flag or None
    """
    if policy not in FORMULAS or policy in keys:
        return None
    formula = FORMULAS[policy]
    lacking = f"the lens has no {formula.constant_name} of its own" + (
        ", or the chamber depth was not measured" if formula.needs_chamber_depth else ""
    )
    used = " and ".join(FORMULAS[key].label for key in keys)
    return Flag(
        code="formula-stands-in", severity=Severity.NOTE,
        message=f"{formula.label} is set for every eye, but {lacking}: {used} stands in.",
        action="Give the lens its constant or measure the chamber, or choose another formula in the day's settings.",
        source="unit", basis=Basis.COMMON_PRACTICE,
    )  # fmt: skip


def range_flags(
    *, axial_length_mm: float, mean_k_d: float, keys: Collection[str], knowledge: Knowledge
) -> tuple[Flag, ...]:
    """What to say about formulas asked beyond the lengths they are advised for.

    Parameters
    ----------
    axial_length_mm : float [mm]
    mean_k_d : float [D]
    keys : collection of str
        The formulas that the plan of this eye stands on.
    knowledge : Knowledge
        Holds ``formula_range.toml``, whose sources the flags name.

    Returns
    -------
    tuple of Flag
        Empty when every formula is at home, or when a measurement is NaN.
    """
    found = []
    if bool(corneal_height_undefined(Biometry(axial_length_mm, mean_k_d))):
        found.append(
            Flag(
                code="srk-t-height-undefined", severity=Severity.NOTE,
                message=f"A length of {axial_length_mm:.2f} mm with a cornea of {mean_k_d:.2f} D is beyond what "
                "SRK/T can place a lens in; T2 stands in for it.",
                action="Confirm length and keratometry with a second reading.",
                source=FORMULAS["t2"].source, basis=FORMULAS["t2"].basis,
            )
        )  # fmt: skip
    for key in keys:
        lowest, highest = (knowledge.number(f"formula_range.{key}.{end}") for end in ("low", "high"))
        if axial_length_mm < lowest.value or axial_length_mm > highest.value:
            beyond = highest if axial_length_mm > highest.value else lowest
            found.append(
                Flag(
                    code="outside-advised-range", severity=Severity.NOTE,
                    message=f"A length of {axial_length_mm:.2f} mm is outside {lowest.value:g} to "
                    f"{highest.value:g} mm, for which {FORMULAS[key].label} is advised or was made.",
                    action="Expect a wider miss; compare the formulas on the eye's page.",
                    source=beyond.source, basis=beyond.basis, value=axial_length_mm, limit=beyond.value, unit="mm",
                )
            )  # fmt: skip
    return tuple(found)


def disagreement_flag(*, refractions_d: ArrayLike, knowledge: Knowledge) -> Flag | None:
    """Says so when the formulas differ about one lens in one eye.

    Parameters
    ----------
    refractions_d : array_like, shape (formulas,) [D]
        What each formula expects of the same lens; NaN where it could not be run.
    knowledge : Knowledge

    Returns
    -------
    Flag or None
    """
    known = np.asarray(refractions_d, dtype=np.float64)
    known = known[np.isfinite(known)]
    limit = knowledge.number("formula_choice.limits.disagreement_d")
    spread = float(np.ptp(known)) if known.size else 0.0
    if spread <= limit.value:
        return None
    return Flag(
        code="formulas-disagree", severity=Severity.NOTE,
        message=f"The formulas differ by {spread:.2f} D about this lens.",
        action="Look at the measurements again before trusting any of them.",
        source=limit.source, basis=Basis(limit.basis), value=spread, limit=limit.value, unit="D",
    )  # fmt: skip
