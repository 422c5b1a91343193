"""What the printed sheets say, as plain text: the templates only place it on paper."""

from collections.abc import Iterable, Sequence
from typing import Any

from ..day.plan import CostLine, DayPlan, EyePlan, KitItem, Reading
from ..knowledge import Basis, Flag, Reason, Severity, load_published
from ..lens.choice import LensChoice
from ..lens.model import Placement
from . import numbers, words
from .caution import CAUTION
from .day_strip import day_description, day_strip
from .eye_drawing import eye_description, eye_drawing
from .forecast_strip import forecast_description, forecast_strip

__all__ = ["day_sheet_data", "eye_sheets_data"]

Data = dict[str, Any]
SEVERITY_ORDER = (Severity.STOP, Severity.WARN, Severity.NOTE)
HASH_SHOWN = 12


def day_sheet_data(plan: DayPlan) -> Data:
    """The theatre's list and the page of what to sort out.

    Parameters
    ----------
    plan : DayPlan
        The planned day.

    Returns
    -------
    dict
        Text by name, as ``templates/day.typ`` reads it.
    """
    return {
        **sheet_frame(plan, "Operating list"),
        "rows": [list_row(eye) for eye in plan.eyes if eye.slot],
        "off": [off_row(eye) for eye in plan.eyes if not eye.slot],
        "tonight": tonight_rows(plan),
        "kit": [kit_row(item) for item in plan.kit],
        "cost": cost_rows(plan.cost, plan.currency),
        "facts": day_facts(plan),
        "strip": {"svg": day_strip(plan=plan, ident="day"), "alt": day_description(plan=plan)},
    }


def eye_sheets_data(plan: DayPlan) -> Data:
    """One page an eye.

    Parameters
    ----------
    plan : DayPlan
        The planned day.

    Returns
    -------
    dict
        Text by name, as ``templates/eyes.typ`` reads it.
    """
    return {**sheet_frame(plan, "Eye sheets"), "eyes": [eye_page(eye, plan) for eye in plan.eyes]}


def sheet_frame(plan: DayPlan, title: str) -> Data:
    """What stands on every page of a sheet."""
    return {
        "title": f"{title}, {plan.unit}, {numbers.long_date(plan.day)}",
        "unit": plan.unit,
        "date": numbers.long_date(plan.day),
        "date_parts": [plan.day.year, plan.day.month, plan.day.day],
        "caution": CAUTION,
        "versions": (
            f"Sideport {plan.program_version}, knowledge {plan.knowledge_version}, "
            f"inputs {plan.inputs_sha256[:HASH_SHOWN]}, seed {plan.seed}"
        ),
    }


def identity(eye: EyePlan) -> Data:
    """Who and which eye; the same words on every sheet."""
    return {
        "name": eye.name,
        "id": eye.person_id,
        "person": words.person_words(eye),
        "side": words.SIDE_WORDS[eye.side],
        "only_eye": eye.only_eye,
    }


def list_row(eye: EyePlan) -> Data:
    """One line of the theatre's list."""
    slot = eye.slot
    first, *more = [*sorted_flags(eye.flags), None]
    warned = first is not None and first.severity is not Severity.NOTE
    rest = sum(flag is not None and flag.severity is not Severity.NOTE for flag in more)
    return {
        **identity(eye),
        "order": str(slot.order) if slot else "",
        "time": numbers.clock_time(slot.starts) if slot else "",
        "table": f"Table {slot.table}" if slot else "",
        "operation": words.TECHNIQUE_WORDS[eye.technique.suggested],
        "cataract": words.cataract_words(eye.cataract),
        "operator": eye.operator.name or "NOBODY YET",
        "supervisor": f"with {eye.operator.supervisor}" if eye.operator.supervisor else "",
        "lens": lens_data(eye.lens) or missing_lens(eye, Placement.BAG),
        "backup": lens_data(eye.backup) or missing_lens(eye, Placement.SULCUS),
        "cut": words.cut_words(eye.wound.chosen) if eye.wound else "no cut",
        "warning": flag_data(first) if first and warned else None,
        "more": f"and {rest} more on the eye sheet" if rest else "",
    }


def tonight_rows(plan: DayPlan) -> list[Data]:
    """What to sort out, with whom it concerns: the same person and side as on the list."""
    eyes = {eye.key: eye for eye in plan.eyes}
    return [
        {
            "severity": item.severity,
            "word": words.SEVERITY_WORDS[Severity(item.severity)],
            "who": identity(eyes[item.eye_key]) if item.eye_key in eyes else None,
            "message": item.message,
            "action": item.action,
        }
        for item in plan.tonight
    ]


def off_row(eye: EyePlan) -> Data:
    """An eye that is not on the list, and why."""
    return {**identity(eye), "why": eye.off_list or "no reason given"}


def lens_data(choice: LensChoice | None) -> Data | None:
    """A lens with its sign and place."""
    if choice is None:
        return None
    return {
        "power": numbers.power(choice.power_d),
        "place": words.PLACEMENT_WORDS[choice.placement],
        "model": choice.model,
        "box": f"box {choice.box_id}" if choice.box_id else "not on the shelf",
        "missing": False,
    }


def missing_lens(eye: EyePlan, placement: Placement) -> Data:
    """The word that no lens was given, and what to fetch."""
    needs = [need for need in eye.needs if need.placement is placement]
    fetch = f"fetch {words.need_words(needs[0])}" if needs else ""
    what = "NO LENS" if placement is Placement.BAG else "NO BACKUP"
    return {"power": what, "place": words.PLACEMENT_WORDS[placement], "model": fetch, "box": "", "missing": True}


def kit_row(item: KitItem) -> Data:
    """Something to lay out or to keep closed."""
    amount = numbers.count(item.quantity)
    return {"name": item.name, "amount": f"{amount} {item.unit}".strip(), "why": item.why, "closed": item.contingency}


def cost_rows(lines: Sequence[CostLine], currency: str) -> list[list[str]]:
    """Each line of the cost and the sum of what has a price."""
    rows = [[line.name, numbers.money(line.amount, currency)] for line in lines]
    unpriced = sum(line.amount is None for line in lines)
    total = sum(line.amount for line in lines if line.amount is not None)
    label = "Together" if not unpriced else f"Together ({unpriced} without a price)"
    return [*rows, [label, numbers.money(total, currency)]] if lines else []


def day_facts(plan: DayPlan) -> list[list[str]]:
    """The day in a few lines."""
    listed = sum(eye.slot is not None for eye in plan.eyes)
    finish = numbers.clock_time(plan.finishes)
    if plan.overtime_min > 0:
        finish += f", {numbers.minutes(plan.overtime_min)} after the end of the day"
    return [
        ["Eyes on the list", f"{listed}; off the list {len(plan.eyes) - listed}"],
        ["Day", f"{numbers.clock_time(plan.starts)} to {numbers.clock_time(plan.ends)}, tables: {plan.tables}"],
        ["Expected finish", finish],
        ["Expected capsule tears", numbers.number(plan.expected_tears)],
        ["Team", ", ".join(plan.team) or "nobody"],
    ]


def sorted_flags(flags: Iterable[Flag]) -> list[Flag]:
    """Worst first, otherwise as given."""
    return sorted(flags, key=lambda flag: SEVERITY_ORDER.index(flag.severity))


def flag_data(flag: Flag) -> Data:
    """A flag with its word, action and origin."""
    return {
        "severity": flag.severity.value,
        "word": words.SEVERITY_WORDS[flag.severity],
        "message": flag.message,
        "action": flag.action,
        "origin": origin(flag.source, flag.basis),
    }


def origin(source: str, basis: Basis) -> str:
    """Where a statement comes from; a number from memory says so."""
    return basis.value if source in {"practice", "unit"} else f"{source}, {basis.value}"


def reason_rows(reasons: Iterable[Reason]) -> list[Data]:
    """Reasons with the way they push."""
    return [
        {"text": reason.text, "effect": reason.effect.value, "origin": origin(reason.source, reason.basis)}
        for reason in reasons
    ]


def eye_page(eye: EyePlan, plan: DayPlan) -> Data:
    """Everything on one eye's page."""
    return {
        **list_row(eye),
        "off_list": eye.off_list if eye.slot is None else "",
        "acuity": eye.acuity or "acuity not known",
        "note": eye.note,
        "readings": reading_rows(eye.readings),
        "belief": belief_rows(eye),
        "flags": [flag_data(flag) for flag in sorted_flags(eye.flags)],
        "target": numbers.refraction(eye.target_d),
        "choices": choice_rows(eye),
        "needs": [f"Fetch {words.need_words(need)}: {need.reason}" for need in eye.needs],
        "chamber": (
            f"If neither bag nor sulcus holds: {words.need_words(eye.chamber_need)}" if eye.chamber_need else ""
        ),
        "strip": strip_data(eye) if eye.choices else None,
        "drawing": {
            "svg": eye_drawing(side=eye.side, wound=eye.wound, belief=eye.belief, ident=eye.key),
            "alt": eye_description(side=eye.side, wound=eye.wound, belief=eye.belief),
        },
        "cut_lines": cut_lines(eye),
        "cut_reasons": reason_rows(eye.wound.reasons) if eye.wound else [],
        "technique_reasons": reason_rows(eye.technique.reasons),
        "alternative": words.TECHNIQUE_WORDS[eye.technique.alternative] if eye.technique.alternative else "",
        "operator_reasons": reason_rows(eye.operator.reasons),
        "risk": risk_data(eye),
        "kit": [kit_row(item) for item in eye.kit],
        "cost": cost_rows(eye.cost, plan.currency),
        "sources": source_lines(eye),
    }


def strip_data(eye: EyePlan) -> Data:
    """The forecast of the lenses with its words."""
    return {
        "svg": forecast_strip(choices=eye.choices, lens=eye.lens, target_d=eye.target_d, ident=f"{eye.key}-strip"),
        "alt": forecast_description(choices=eye.choices, lens=eye.lens, target_d=eye.target_d),
    }


def reading_rows(readings: Sequence[Reading]) -> list[list[str]]:
    """Readings of one quantity and method together: quantity, values, method."""
    groups: dict[tuple[str, str], list[str]] = {}
    for reading in readings:
        groups.setdefault((reading.quantity, reading.method), []).append(reading_words(reading))
    return [
        [quantity[:1].upper() + quantity[1:], ", ".join(values), method]
        for (quantity, method), values in groups.items()
    ]


def reading_words(reading: Reading) -> str:
    """A reading, with its axis, and as written where the file says it otherwise."""
    value = numbers.quantity(reading.value, reading.unit)
    axis = f" at {numbers.degrees(reading.axis_deg)}" if reading.axis_deg is not None else ""
    plain = numbers.number(reading.value)
    told = reading.as_written.replace(",", ".")
    same = not told or told.startswith(plain) or plain.rstrip("0").rstrip(".") == told
    return f"{value}{axis}" + ("" if same else f" (written {reading.as_written})")


def belief_rows(eye: EyePlan) -> list[list[str]]:
    """What is believed of the eye: quantity, value with spread, where it comes from."""
    belief = eye.belief
    rows = (
        ("Axial length", belief.axial_length_mm, "mm"),
        ("Mean keratometry", belief.mean_k_d, "D"),
        ("Corneal astigmatism", belief.corneal_astigmatism_d, "D"),
        ("Chamber depth", belief.chamber_depth_mm, "mm"),
        ("Lens thickness", belief.lens_thickness_mm, "mm"),
        ("Corneal diameter", belief.white_to_white_mm, "mm"),
    )
    told = [
        [label, numbers.with_spread(estimate.value, estimate.sd, unit), estimate.origin]
        for label, estimate, unit in rows
    ]
    steep = numbers.degrees(belief.steep_axis_deg)
    return [*told[:3], ["Steep meridian", steep, "as the astigmatism"], *told[3:]]


def choice_rows(eye: EyePlan) -> list[Data]:
    """The lenses compared, numbered as in the strip, and the backup."""
    rows = [*eye.choices, *([eye.lens] if eye.lens and eye.lens not in eye.choices else [])]
    table = [{**choice_row(choice), "order": str(at), "given": choice == eye.lens} for at, choice in enumerate(rows, 1)]
    if eye.backup:
        table.append({**choice_row(eye.backup), "order": "backup", "given": False})
    return table


def choice_row(choice: LensChoice) -> Data:
    """One lens with what it would do."""
    others = [result for result in choice.formulas if result.formula != choice.formula]
    return {
        "power": numbers.power(choice.power_d),
        "place": words.PLACEMENT_WORDS[choice.placement],
        "model": choice.model,
        "expected": f"{numbers.signed(choice.refraction_d)} ± {numbers.number(choice.sd_d)}",
        "half": numbers.percent(choice.within_half),
        "one": numbers.percent(choice.within_one),
        "formulas": "; ".join(
            [choice.formula, *(f"{result.formula} {numbers.signed(result.refraction_d)}" for result in others)]
        ),
    }


def cut_lines(eye: EyePlan) -> list[str]:
    """The cut and what it should do to the cornea."""
    if eye.wound is None:
        return []
    cut, second = eye.wound.chosen, eye.wound.second
    told = [
        f"{words.cut_words(cut)}, {numbers.millimetres(cut.limbus_distance_mm)} behind the limbus, tunnel "
        f"{numbers.millimetres(cut.tunnel_mm)} into clear cornea",
        f"Expected corneal cylinder after healing {numbers.dioptres(cut.cylinder_d)}, steep at "
        f"{numbers.degrees(cut.cylinder_axis_deg)}; {numbers.percent(cut.within_one)} end at 1.00 D or less",
    ]
    if second:
        told.append(
            f"Second choice: {words.cut_words(second)}, expected cylinder {numbers.dioptres(second.cylinder_d)}"
        )
    return told


def risk_data(eye: EyePlan) -> Data:
    """Odds of a capsule tear with what raised them."""
    risk = eye.risk
    return {
        "odds": f"{numbers.percent(risk.probability)} ({numbers.percent(risk.low)} to {numbers.percent(risk.high)})",
        "model": risk.model,
        "factors": [
            f"{factor.label} {numbers.odds_ratio(factor.odds_ratio)} ({origin(factor.source, factor.basis)})"
            for factor in risk.factors
        ],
        "trade": [
            f"{factor.label}: {factor.advice} ({origin(factor.source, factor.basis)})" for factor in risk.trade_factors
        ],
        "points": f"Score {risk.points} points." if risk.points is not None else "",
        "missing": f"Not recorded, counted as absent: {', '.join(risk.missing)}." if risk.missing else "",
        "note": risk.note,
    }


def source_lines(eye: EyePlan) -> list[str]:
    """The works that the page names, in full."""
    reasons = [*eye.technique.reasons, *eye.operator.reasons, *(eye.wound.reasons if eye.wound else ())]
    keys = {eye.risk.model, *(flag.source for flag in eye.flags), *(reason.source for reason in reasons)}
    keys.update(factor.source for factor in eye.risk.factors)
    keys.update(factor.source for factor in eye.risk.trade_factors)
    known = load_published().sources
    return [f"{key}: {known[key].citation}" for key in sorted(keys & known.keys() - {"practice", "unit"})]
