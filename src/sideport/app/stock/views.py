"""The shelf as a plan leaves it."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from ..access import get_plan_for
from .pages import shelf_page

__all__ = ["shelf"]


@require_safe
def shelf(request: HttpRequest, plan_id: int) -> HttpResponse:
    """The shelf."""
    return render(request, "stock/shelf.html", {"page": shelf_page(get_plan_for(request, plan_id))})
