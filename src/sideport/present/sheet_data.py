"""What the theatre's list says, as plain text: the templates only place it on paper."""

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Any

from ..day.plan import CostLine, DayPlan, EyePlan, KitItem
from ..knowledge import Flag, Severity
from ..lens.choice import LensChoice
from ..lens.model import Placement
from . import numbers, words
from .caution import CAUTION
from .day_strip import day_description, day_strip

__all__ = ["Data", "cost_rows", "day_sheet_data", "finish_words", "identity", "list_row", "sheet_frame", "sorted_flags"]

Data = dict[str, Any]
SEVERITY_ORDER = (Severity.STOP, Severity.WARN, Severity.NOTE)
HASH_SHOWN = 12
LOOK_LETTERS = 110
"""As much of a warning as the list's last column holds in four or five lines."""


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
        "summary": day_summary(plan),
        "rows": [list_row(eye) for eye in plan.eyes if eye.slot],
        "off": [off_row(eye) for eye in plan.eyes if not eye.slot],
        "tonight": tonight_rows(plan),
        "tonight_count": tonight_count(plan),
        "remeasure": remeasure_rows(plan),
        "kit": [kit_row(item) for item in plan.kit],
        "cost": cost_rows(plan.cost, plan.currency),
        "facts": day_facts(plan),
        "strip": {"svg": day_strip(plan=plan, ident="day"), "alt": day_description(plan=plan)},
    }


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
    warnings = [flag for flag in sorted_flags(eye.flags) if flag.severity is not Severity.NOTE]
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
        "warning": look_data(warnings[0]) if warnings else None,
        "more": f"+{len(warnings) - 1} more" if len(warnings) > 1 else "",
    }


def tonight_count(plan: DayPlan) -> str:
    """How many urgent things are open; notes do not count."""
    found = Counter(item.severity for item in plan.tonight)
    told = [f"{found[one.value]} {words.SEVERITY_WORDS[one]}" for one in SEVERITY_ORDER[:2] if found[one.value]]
    return ", ".join(told) or "nothing"


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


def remeasure_rows(plan: DayPlan) -> list[Data]:
    """What is worth measuring again, with whom it concerns."""
    eyes = {eye.key: eye for eye in plan.eyes}
    return [
        {
            "who": identity(eyes[item.eye_key]) if item.eye_key in eyes else None,
            "what": f"{item.what}, {item.method}, {item.readings} {'reading' if item.readings == 1 else 'readings'}",
            "gain": f"+{numbers.count(round(100 * item.gain))} in 100",
            "words": item.words,
        }
        for item in plan.remeasure
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
        "place": words.place_words(choice),
        "bag": choice.placement is Placement.BAG,
        "model": choice.model,
        "box": f"box {choice.box_id}" if choice.box_id else "not on the shelf",
        "missing": False,
    }


def missing_lens(eye: EyePlan, placement: Placement) -> Data:
    """The word that no lens was given, and what to fetch."""
    needs = [need for need in eye.needs if need.placement is placement]
    fetch = f"fetch {words.need_words(needs[0])}" if needs else ""
    what = "NO LENS" if placement is Placement.BAG else "NO BACKUP"
    return {
        "power": what,
        "place": words.PLACEMENT_WORDS[placement],
        "bag": placement is Placement.BAG,
        "model": fetch,
        "box": "",
        "missing": True,
    }


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


def finish_words(plan: DayPlan) -> str:
    """When the list is expected to end, and how long after the end of the day that is."""
    finish = numbers.clock_time(plan.finishes)
    if plan.overtime_min > 0:
        finish += f", {numbers.minutes(plan.overtime_min)} after the end of the day"
    return finish


def day_summary(plan: DayPlan) -> str:
    """The day in one line, for the head of the list."""
    listed = sum(eye.slot is not None for eye in plan.eyes)
    parts = (
        f"Starts {numbers.clock_time(plan.starts)}, expected to end {finish_words(plan)}",
        f"{listed} {'eye' if listed == 1 else 'eyes'}",
        f"expected capsule tears {numbers.number(plan.expected_tears, 1)}",
    )
    return " · ".join(parts)


def day_facts(plan: DayPlan) -> list[list[str]]:
    """The day in a few lines."""
    listed = sum(eye.slot is not None for eye in plan.eyes)
    return [
        ["Eyes on the list", f"{listed}; off the list {len(plan.eyes) - listed}"],
        ["Day", f"{numbers.clock_time(plan.starts)} to {numbers.clock_time(plan.ends)}, tables: {plan.tables}"],
        ["Expected finish", finish_words(plan)],
        ["Expected capsule tears", numbers.number(plan.expected_tears)],
        ["Team", ", ".join(plan.team) or "nobody"],
    ]


def sorted_flags(flags: Iterable[Flag]) -> list[Flag]:
    """Worst first, otherwise as given."""
    return sorted(flags, key=lambda flag: SEVERITY_ORDER.index(flag.severity))


def look_data(flag: Flag) -> Data:
    """A warning as the list shows it: its first sentence or whole clauses of it; the eye sheet has the rest."""
    return {
        "severity": flag.severity.value,
        "word": words.SEVERITY_WORDS[flag.severity],
        "message": words.whole_clause(flag.message, LOOK_LETTERS),
    }
