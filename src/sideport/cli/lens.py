"""``sideport lens``: one eye, one formula, one lens."""

import json
import math
from dataclasses import dataclass

import numpy as np
import typer

from ..errors import SideportError
from ..lens.formula import Biometry, Formula, FormulaConstants
from ..lens.registry import formula as find_formula
from ..lens.registry import outside_advised_range
from ..present import numbers
from .limits import check_constant, check_keratometry, check_reading, limits_of, range_words

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
        constants = constants_of(question, formula)
        refuse_nonsense(question, formula, constants)
        answer = solve(question, formula, constants)
    except SideportError as error:
        typer.echo(str(error), err=True)
        return 2
    for note in notes(question, formula, answer):
        typer.echo(f"Note: {note}", err=True)
    if as_json:
        typer.echo(json.dumps(answer))
    else:
        typer.echo(
            f"{formula.label}, {describe(answer['constant'], formula)}: "
            f"a lens of {with_sign(answer['power_d'])} at {answer['lens_position_mm']:.2f} mm "
            f"leaves {numbers.refraction(float(str(answer['refraction_d'])))}."
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


def with_sign(power_d: object) -> str:
    """A computed power, which is no box's: two decimals and always a sign."""
    text = numbers.refraction(float(str(power_d)))
    return text if text.startswith((numbers.MINUS, "+")) else f"+{text}"


def refuse_nonsense(question: LensQuestion, formula: Formula, constants: FormulaConstants) -> None:
    """Stops at slips of unit, decimal point and constant; the limits are the importer's."""
    check_reading("--al", question.axial_length_mm, "axial_length", "mm")
    check_keratometry("--k1", question.k1_d)
    check_keratometry("--k2", question.k2_d)
    check_reading("--acd", question.chamber_depth_mm, "chamber_depth", "mm")
    check_constant(formula, float(np.asarray(constants.main)))
    check_reading("--a1", question.a1, "haigis", "")
    check_reading("--a2", question.a2, "haigis", "")
    for name, value in (("--target", question.target_d), ("--power", question.power_d)):
        if value is not None and not math.isfinite(value):
            raise SideportError(f"{name} must be a number.")


def notes(question: LensQuestion, formula: Formula, answer: dict[str, object]) -> list[str]:
    """What is unusual about an answer that is given all the same."""
    told = []
    low, high = formula.axial_length_range_mm
    biometry = Biometry(axial_length_mm=question.axial_length_mm, mean_k_d=math.nan)
    if outside_advised_range(formula, biometry):
        told.append(
            f"{formula.label} is advised for {low:g} to {high:g} mm; this eye is {question.axial_length_mm:g} mm long. "
            "Compare with another formula."
        )
    for what, value, key in (
        ("power", answer["power_d"], "lens_power"),
        ("refraction", answer["refraction_d"], "target"),
    ):
        least, most = limits_of(key)
        if not least <= float(str(value)) <= most:
            told.append(f"A {what} of {numbers.refraction(float(str(value)))} is unusual ({range_words(key, 'D')}).")
    return told


def describe(constant: object, formula: Formula) -> str:
    """The constant in words, with its name."""
    if isinstance(constant, dict):
        return " ".join(f"{name} {value:g}" for name, value in constant.items()).replace("-", numbers.MINUS)
    return f"{formula.constant_name} {constant:g}".replace("-", numbers.MINUS)


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
