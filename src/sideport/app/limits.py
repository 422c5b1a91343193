"""Refuses what is too large to take in before a byte of it is stored."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase

__all__ = ["MOST_SENT", "SmallEnough"]

MOST_SENT = 100_000_000
"""Bytes that one form may bring, files and all; a unit's folder has a hundredth of that."""
REFUSAL = """<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Too large</title></head><body>
<h1>That is too large</h1><p>At most {most} MB can be sent at once, and nothing of it was taken. Send fewer files, or
read the folder in on the computer itself: <code>sideport plan FOLDER --out OUT</code>.</p></body></html>"""


class SmallEnough:
    """Answer a request that announces too many bytes without reading them."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Refuse by the announced length; a body without one is empty to the framework."""
        announced = request.META.get("CONTENT_LENGTH") or "0"
        if not announced.isdecimal() or int(announced) > MOST_SENT:
            return HttpResponse(REFUSAL.format(most=MOST_SENT // 1_000_000), status=413)
        return self.get_response(request)
