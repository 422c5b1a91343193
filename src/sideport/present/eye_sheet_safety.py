"""What an eye's page says for safety beside the lens and the cut: what to settle first, the trolley, the largest doses.

Every piece of advice here is a whole sentence or is counted as left for the screen; none is cut.
"""

import math
from collections.abc import Iterable, Sequence

from ..day.plan import DoseLine, EyePlan, ReadinessItem, ReadyState
from ..risk.advice import TrolleyItem
from . import numbers
from .citations import PageCitations, cited_once
from .sheet_data import Data

__all__ = ["dose_data", "readiness_data", "trolley_data"]

FOUND = {ReadyState.STOP: "STOP", ReadyState.WARN: "LOOK AGAIN"}
SETTLED_FIRST = 3
"""Most findings told in full; the rest is named."""
ROUNDING = 1e-9


def readiness_data(items: Sequence[ReadinessItem], cite: PageCitations) -> Data:
    """What stops or warns, with what to do, and the names of what nobody has recorded.

    Parameters
    ----------
    items : sequence of ReadinessItem
        The eye's list, worst first.
    cite : PageCitations
        The page's sources.

    Returns
    -------
    dict
        ``found``: word, text and figure of each; ``to_do``: one line; ``more``: how many findings are named only.
    """
    found = [item for item in items if item.state in FOUND]
    to_do = [item.label for item in items if item.state is ReadyState.TO_DO]
    left = [item.label for item in found[SETTLED_FIRST:]]
    return {
        "found": [
            {
                "severity": item.state.value,
                "word": FOUND[item.state],
                "text": f"{item.label}: {item.message} {item.action}".strip(),
                "cite": cite.mark(item.source, item.basis),
            }
            for item in found[:SETTLED_FIRST]
        ],
        "more": f"Also: {'; '.join(left)} (+{len(left)} on the screen)." if left else "",
        "to_do": f"{'; '.join(to_do)}." if to_do else "",
    }


def trolley_data(eye: EyePlan, cite: PageCitations) -> Data:
    """What stands open, what is kept closed with its chance and trigger, and other contingencies of the kit.

    Parameters
    ----------
    eye : EyePlan
        The planned eye.
    cite : PageCitations
        The page's sources.

    Returns
    -------
    dict
        ``opened`` and ``closed``: text and figure of each; ``also``: names without a trigger of their own.
    """
    told = {item.name for item in eye.trolley}
    return {
        "opened": trolley_rows((item for item in eye.trolley if item.opened), cite),
        "closed": trolley_rows((item for item in eye.trolley if not item.opened), cite),
        "also": "; ".join(item.name for item in eye.kit if item.contingency and item.name not in told),
    }


def trolley_rows(items: Iterable[TrolleyItem], cite: PageCitations) -> list[Data]:
    """Each item with how likely it is to be used, and what calls for it."""
    return cited_once(
        [
            {
                "text": f"{item.name} ({numbers.percent(item.probability)}: {item.trigger})",
                "cite": cite.mark(item.source, item.basis),
            }
            for item in items
        ]
    )


def dose_data(doses: Sequence[DoseLine], cite: PageCitations) -> Data:
    """The largest doses, a drug each, for one line of the page.

    Parameters
    ----------
    doses : sequence of DoseLine
        The eye's drugs.
    cite : PageCitations
        The page's sources.

    Returns
    -------
    dict
        ``told``: text and figure of each that goes by weight, rounded down, never up; the rule where no weight is
        recorded, which ``weigh`` says; ``more``: how many fixed doses stand on the screen.
    """
    weighed = [dose for dose in doses if goes_by_weight(dose)]
    rows = [{"text": f"{dose.drug} {most(dose)}", "cite": cite.mark(dose.source, dose.basis)} for dose in weighed]
    unknown = any(dose.maximum_mg is None for dose in weighed)
    left = len(doses) - len(weighed)
    return {
        "told": cited_once(rows),
        "weigh": "Weight not recorded: weigh first." if unknown else "",
        "more": f"(+{left} on the screen)" if left else "",
    }


def goes_by_weight(dose: DoseLine) -> bool:
    """Whether the largest dose depends on the person's weight."""
    return "mg/kg" in dose.rule


def most(dose: DoseLine) -> str:
    """The largest dose of one drug: in mL of its strength, or by its rule."""
    if dose.maximum_mg is not None and dose.maximum_ml is not None:
        return f"{rounded_down(dose.maximum_ml, 'mL')} ({rounded_down(dose.maximum_mg, 'mg')}) at {dose.strength}"
    return dose.rule.partition(" (")[0]


def rounded_down(value: float, unit: str) -> str:
    """A tenth at most; a largest dose is never rounded up."""
    return numbers.quantity(math.floor(10 * value + ROUNDING) / 10, unit, 1)
