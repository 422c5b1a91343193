"""``sideport lens``: one eye, one formula, one lens."""

import json
import math
from dataclasses import dataclass

import numpy as np
import typer

from ..errors import SideportError
from ..lens.formula import Biometry, Formula, FormulaConstants
from ..lens.registry import formula as find_formula

__all__ = ["LensQuestion", "answer_lens"]


@dataclass(frozen=True, slots=True)
class LensQuestion:
    """The options as typed; see ``sideport lens --help``."""

    axial_length_mm: float
    k1_d: float
    k2_d: float
    chamber_depth_mm: float | None
    formula: str
    constant: float | None
    a0: float | None
    a1: float | None
    a2: float | None
    target_d: float | None
    power_d: float | None


def answer_lens(question: LensQuestion, *, as_json: bool) -> int:
    """Prints the answer; returns 0, or 2 with a message that says what to do."""
    try:
        formula = find_formula(question.formula)
        answer = solve(question, formula, constants_of(question, formula))
    except SideportError as error:
        typer.echo(str(error), err=True)
        return 2
    if as_json:
        typer.echo(json.dumps(answer))
    else:
        typer.echo(
            f"{formula.label}, {describe(answer['constant'], formula)}: "
            f"a lens of {answer['power_d']:+.2f} D at {answer['lens_position_mm']:.2f} mm "
            f"leaves {answer['refraction_d']:+.2f} D."
        )
        typer.echo(
            "Decision support for licensed staff: check by a second person and a second method. "
            + (
                ""
                if formula.verified
                else "This formula is programmed from memory and not yet compared with its print."
            )
        )
    return 0


def describe(constant: object, formula: Formula) -> str:
    """The constant in words, with its name."""
    if isinstance(constant, dict):
        return " ".join(f"{name} {value:g}" for name, value in constant.items())
    return f"{formula.constant_name} {constant:g}"


def constants_of(question: LensQuestion, formula: Formula) -> FormulaConstants:
    """The constants the formula needs, or an error that says which option is missing or misplaced."""
    if formula.key == "haigis":
        if question.constant is not None:
            raise SideportError("Haigis takes --a0 (and --a1, --a2), not --constant.")
        if question.a0 is None or question.chamber_depth_mm is None:
            raise SideportError("Haigis needs --a0 and --acd.")
        defaults = FormulaConstants(main=question.a0)
        return FormulaConstants(
            main=question.a0,
            a1=defaults.a1 if question.a1 is None else question.a1,
            a2=defaults.a2 if question.a2 is None else question.a2,
        )
    if any(value is not None for value in (question.a0, question.a1, question.a2)):
        raise SideportError(f"--a0, --a1 and --a2 belong to Haigis; {formula.label} takes --constant.")
    if question.constant is None:
        raise SideportError(f"{formula.label} needs --constant, its {formula.constant_name} for this lens.")
    return FormulaConstants(main=question.constant)


def solve(question: LensQuestion, formula: Formula, constants: FormulaConstants) -> dict[str, object]:
    """Power for the target, or refraction for the power, with the lens position."""
    if (question.target_d is None) == (question.power_d is None):
        raise SideportError("Give either --target (to get the power) or --power (to get the refraction), not both.")
    biometry = Biometry(
        axial_length_mm=question.axial_length_mm,
        mean_k_d=(question.k1_d + question.k2_d) / 2,
        chamber_depth_mm=math.nan if question.chamber_depth_mm is None else question.chamber_depth_mm,
    )
    if question.power_d is None:
        refraction = question.target_d
        power = float(formula.power_d(biometry, constants, refraction if refraction is not None else 0.0))
    else:
        power = question.power_d
        refraction = float(formula.refraction_d(biometry, constants, power))
    named = {name: float(np.asarray(getattr(constants, name))) for name in ("main", "a1", "a2")}
    haigis = {"a0": named["main"], "a1": named["a1"], "a2": named["a2"]}
    return {
        "formula": formula.key,
        "constant": haigis if formula.key == "haigis" else named["main"],
        "lens_position_mm": float(formula.lens_position_mm(biometry, constants)),
        "power_d": power,
        "refraction_d": refraction,
    }
