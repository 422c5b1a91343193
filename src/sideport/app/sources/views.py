"""The bibliography, and one work with the numbers that stand on it."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from ..access import any_account
from .pages import source_page, sources_page

__all__ = ["source", "sources"]


@any_account
@require_safe
def sources(request: HttpRequest) -> HttpResponse:
    """Every work."""
    return render(request, "sources/sources.html", {"page": sources_page(request.user)})


@any_account
@require_safe
def source(request: HttpRequest, key: str) -> HttpResponse:
    """One work."""
    page = source_page(key, request.user)
    if page is None:
        raise Http404("The bibliography has no such work.")
    return render(request, "sources/source.html", {"page": page})
