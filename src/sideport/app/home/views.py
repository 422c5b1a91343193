"""The first page after signing in."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from ..access import any_account, log_read
from ..people.models import ReadLog
from .pages import home_page

__all__ = ["home"]


@any_account
@require_safe
def home(request: HttpRequest) -> HttpResponse:
    """What the person's role needs to see first."""
    page = home_page(request)
    if page.named:
        log_read(request, subject="home", kind=ReadLog.Kind.LIST, detail=f"{len(page.named)} shown")
    return render(request, "home/home.html", {"page": page})
