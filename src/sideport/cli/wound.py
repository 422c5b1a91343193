"""``sideport wound``: one cut on one cornea."""

import json
import math
from dataclasses import asdict, dataclass
from enum import Enum
from typing import TypeVar

import numpy as np
import typer

from ..errors import SideportError
from ..eye.person import EyeRecord
from ..knowledge import Knowledge, load_published
from ..optics.power_vector import corneal_astigmatism, corneal_vector_from_keratometry
from ..optics.side import Side
from ..wound.axis import axis_from_meridian, meridian_deg
from ..wound.candidates import cut_style
from ..wound.cylinder import probability_cylinder_within
from ..wound.induced import InducedAstigmatism, induced_astigmatism
from ..wound.nucleus import nucleus_belief
from ..wound.passing import passage
from ..wound.plan import Site, WoundShape
from ..wound.seal import self_sealing
from ..wound.technique import Technique
from ..wound.tunnel import Tunnel, globe, tunnel_geometry
from .limits import check_keratometry, check_reading

__all__ = ["WoundQuestion", "answer_wound"]

TECHNIQUES = {"msics": Technique.MSICS, "phaco": Technique.PHACO, "ecce": Technique.ECCE, "icce": Technique.ICCE}
OBLIQUE = {Site.SUPEROTEMPORAL, Site.SUPERONASAL}
LIMITS_D = (0.5, 1.0, 1.5)
Choice = TypeVar("Choice", bound=Enum)


@dataclass(frozen=True, slots=True)
class WoundQuestion:
    """The options as typed; see ``sideport wound --help``."""

    k1_d: float
    axis_deg: float
    k2_d: float | None
    site: str
    length_mm: float
    distance_mm: float | None
    shape: str | None
    technique: str
    side: str | None
    length_model: str
    white_to_white_mm: float | None
    nucleus_grade: float | None
    sutured: bool


def answer_wound(question: WoundQuestion, *, as_json: bool) -> int:
    """Prints the answer; returns 0, or 2 with a message that says what to do."""
    try:
        answer = solve(question, load_published())
    except SideportError as error:
        typer.echo(str(error), err=True)
        return 2
    typer.echo(json.dumps(answer, ensure_ascii=False) if as_json else in_words(answer))
    return 0


def solve(question: WoundQuestion, knowledge: Knowledge) -> dict[str, object]:
    """Every part of the answer, ready for JSON."""
    check_keratometry("--k1", question.k1_d)
    check_keratometry("--k2", question.k2_d)
    check_reading("--axis", question.axis_deg, "axis", "deg")
    check_reading("--white-to-white", question.white_to_white_mm, "white_to_white", "mm")
    check_reading("--nucleus-grade", question.nucleus_grade, "nucleus_grade", "")
    technique = chosen("technique", question.technique, TECHNIQUES)
    site = chosen("site", question.site, {one.value: one for one in Site})
    side = chosen("side", question.side, {one.value: one for one in Side}) if question.side else None
    if side is None and site in OBLIQUE:
        raise SideportError(
            f"A {site.value} cut lies on another axis in right and left eyes; give --side right or left."
        )
    style = cut_style(technique=technique, knowledge=knowledge)
    shapes = {one.value: one for one in WoundShape}
    shape = chosen("shape", question.shape, shapes) if question.shape else style.shape
    distance = style.limbus_distance_mm if question.distance_mm is None else question.distance_mm
    for name, value in (("--length", question.length_mm), ("--distance", distance)):
        if not math.isfinite(value):
            raise SideportError(f"{name} must be a number.")
    induced = induced_astigmatism(
        site=site, side=side or Side.RIGHT, technique=technique, length_mm=question.length_mm,
        limbus_distance_mm=distance, shape=shape, knowledge=knowledge, length_model=question.length_model,
        white_to_white_mm=question.white_to_white_mm, sutured=question.sutured,
    )  # fmt: skip
    where = meridian_deg(site=site, side=side or Side.RIGHT)
    added = corneal_astigmatism(j0_d=induced.mean[0], j45_d=induced.mean[1])
    return {
        "side": side.value if side else None,
        "site": site.value,
        "technique": question.technique,
        "shape": shape.value,
        "length_mm": question.length_mm,
        "limbus_distance_mm": distance,
        "meridian_deg": where if side or site is Site.SUPERIOR else None,
        "cut_axis_deg": float(axis_from_meridian(angle_deg=where)),
        "length_model": question.length_model,
        "induced": {
            "magnitude_d": float(added.magnitude_d),
            "steepens_deg": float(added.steep_axis_deg),
            "j0_d": float(induced.mean[0]) + 0.0,
            "j45_d": float(induced.mean[1]) + 0.0,
            "covariance_d2": induced.covariance.tolist(),
            "eyes": induced.eyes,
            "sources": list(induced.sources),
            "basis": induced.basis.value,
            "studied": bool(induced.studied),
        },
        **corneas(question, induced),
        **tunnel_parts(question, technique, Tunnel(shape, question.length_mm, distance, style.tunnel_mm), knowledge),
    }


def corneas(question: WoundQuestion, induced: InducedAstigmatism) -> dict[str, object]:
    """The cornea before and after; ``None`` where one power alone is known."""
    if question.k2_d is None:
        return {"before": None, "after": None}
    vector = corneal_vector_from_keratometry(
        k1_d=question.k1_d, k1_axis_deg=question.axis_deg, k2_d=question.k2_d, k2_axis_deg=math.nan
    )
    before = corneal_astigmatism(j0_d=vector.j0_d, j45_d=vector.j45_d)
    mean = induced.mean + np.array([vector.j0_d, vector.j45_d])
    after = corneal_astigmatism(j0_d=mean[0], j45_d=mean[1])
    within = probability_cylinder_within(mean=mean, covariance=induced.covariance, limit_d=LIMITS_D)
    return {
        "before": {"magnitude_d": float(before.magnitude_d), "steep_axis_deg": float(before.steep_axis_deg)},
        "after": {
            "magnitude_d": float(after.magnitude_d),
            "steep_axis_deg": float(after.steep_axis_deg),
            "within": {f"{limit:g}": float(chance) for limit, chance in zip(LIMITS_D, within, strict=True)},
        },
    }


def tunnel_parts(
    question: WoundQuestion, technique: Technique, tunnel: Tunnel, knowledge: Knowledge
) -> dict[str, object]:
    """Geometry, seal and, for manual surgery, passage of the nucleus."""
    power = question.k1_d if question.k2_d is None else (question.k1_d + question.k2_d) / 2
    white = math.nan if question.white_to_white_mm is None else question.white_to_white_mm
    eye = globe(knowledge=knowledge, white_to_white_mm=white, mean_k_d=power)
    measured = tunnel_geometry(tunnel=tunnel, eye=eye, knowledge=knowledge)
    geometry = {name: float(getattr(measured, name)) for name in type(measured).__dataclass_fields__}
    seal = self_sealing(
        width_mm=geometry["chord_mm"], limbus_distance_mm=geometry["centre_distance_mm"],
        corneal_mm=geometry["corneal_mm"], knowledge=knowledge,
    )  # fmt: skip
    parts: dict[str, object] = {
        "geometry": {**geometry, "inside_funnel": bool(measured.inside_funnel), "assumed": list(eye.assumed)},
        "seal": {
            "seals": seal.seals,
            "criteria": [{**asdict(one), "basis": one.basis.value} for one in seal.criteria],
        },
        "passage": None,
    }
    if technique is Technique.MSICS:
        record = EyeRecord(side=Side.RIGHT, listed=True, nucleus_grade=question.nucleus_grade)
        nucleus = nucleus_belief(record=record, knowledge=knowledge)
        found = passage(length_mm=question.length_mm, nucleus=nucleus, knowledge=knowledge)
        parts["passage"] = {**asdict(found), "basis": found.basis.value, "nucleus": nucleus.origin}
    return parts


def chosen(what: str, word: str, known: dict[str, Choice]) -> Choice:
    """The named choice, or an error that lists them."""
    key = word.strip().lower()
    if key not in known:
        raise SideportError(f"No {what} is called {word!r}; choose one of {', '.join(known)}.")
    return known[key]


def in_words(answer: dict[str, object]) -> str:
    """The answer in a few lines."""
    part = {key: value for key, value in answer.items() if isinstance(value, dict)}
    induced, geometry = part["induced"], part["geometry"]
    side = f"{answer['side']} eye, " if answer["side"] else ""
    lines = [
        f"{side}{answer['site']} {answer['shape']} cut of {answer['length_mm']:g} mm, "
        f"{answer['limbus_distance_mm']:g} mm behind the limbus: steepens {induced['steepens_deg']:.0f}° by "
        f"{induced['magnitude_d']:.2f} D ({induced['basis']}, {induced['eyes']} eyes, {answer['length_model']})."
    ]
    if "after" in part:
        before, after = part["before"], part["after"]
        chances = ", ".join(f"{100 * chance:.0f} in 100 up to {limit} D" for limit, chance in after["within"].items())
        lines.append(
            f"Cornea {before['magnitude_d']:.2f} D at {before['steep_axis_deg']:.0f}° now, about "
            f"{after['magnitude_d']:.2f} D at {after['steep_axis_deg']:.0f}° after: {chances}."
        )
    lines.append(
        f"{geometry['arc_mm']:.1f} mm along the cut, ends {geometry['end_distance_mm']:.1f} mm from the limbus, inner "
        f"opening {geometry['inner_arc_mm']:.1f} mm; {'long enough to seal' if part['seal']['seals'] else 'suture it'}."
    )
    if "passage" in part:
        lines.append(f"The nucleus passes without force in {100 * part['passage']['probability']:.0f} of 100.")
    return "\n".join([*lines, "Decision support for licensed staff: check by a second person and a second method."])
