"""From a stored row to the plan it holds. Plans never change, so each is parsed once in a process."""

from functools import lru_cache

from ...day.plan import DayPlan
from ...exchange.plan_file import plan_from_json
from .models import StoredPlan

__all__ = ["plan_of"]

KEPT_IN_MEMORY = 16


def plan_of(stored: StoredPlan) -> DayPlan:
    """The plan of a stored row; its document is fetched only when this process has not parsed it yet."""
    return parsed(stored.pk, stored.digest)


@lru_cache(maxsize=KEPT_IN_MEMORY)
def parsed(plan_id: int, digest: str) -> DayPlan:
    """The plan by row and digest, so that another database in the same process is never mistaken for this one."""
    document = StoredPlan.objects.filter(pk=plan_id, digest=digest).values_list("document", flat=True).get()
    return plan_from_json(document)
