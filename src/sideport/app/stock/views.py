"""The shelf as a plan leaves it."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from ..access import Permission, account_of, get_plan_for, log_read, needs
from ..people.models import ReadLog
from .pages import shelf_page

__all__ = ["shelf"]


@needs(Permission.SEE_SHELF)
@require_safe
def shelf(request: HttpRequest, plan_id: int) -> HttpResponse:
    """The shelf."""
    stored = get_plan_for(request.user, plan_id)
    if account_of(request).may(Permission.SEE_PATIENTS):
        log_read(request, subject=f"plan {stored.pk}", kind=ReadLog.Kind.LIST, detail=f"{stored.day:%Y-%m-%d}")
    return render(request, "stock/shelf.html", {"page": shelf_page(stored)})
