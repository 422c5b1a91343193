"""Who may look.

There are no accounts yet. The guard is the address: the site is bound to the loopback interface, and ``LoopbackOnly``
refuses any request that comes from another machine even if someone binds it wider. A stored plan is reached through
``get_plan_for`` alone, so that accounts have one place to take hold.
"""

from collections.abc import Callable
from ipaddress import ip_address

from django.http import HttpRequest, HttpResponseForbidden
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404

from .planning.models import StoredPlan

__all__ = ["LoopbackOnly", "NeverStored", "get_plan_for", "is_loopback"]

GetResponse = Callable[[HttpRequest], HttpResponseBase]
REFUSAL = (
    "Sideport answers only to the computer it runs on, because it has no accounts yet.\n"
    "Open it in a browser on that computer: http://127.0.0.1:8477/\n"
)


def is_loopback(address: str) -> bool:
    """Whether an address, as the server gives it, belongs to this machine alone."""
    try:
        found = ip_address(address.strip("[]"))
    except ValueError:
        return False
    mapped = getattr(found, "ipv4_mapped", None)
    return (mapped or found).is_loopback


def get_plan_for(request: HttpRequest, plan_id: int) -> StoredPlan:
    """The stored plan without its document, or 404."""
    del request  # every reader on this machine may read every plan
    return get_object_or_404(StoredPlan.objects.light(), pk=plan_id)


class LoopbackOnly:
    """Refuse requests from any other machine, in plain words."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Pass a loopback request on; answer 403 to any other."""
        if not is_loopback(request.META.get("REMOTE_ADDR", "")):
            return HttpResponseForbidden(REFUSAL, content_type="text/plain; charset=utf-8")
        return self.get_response(request)


class NeverStored:
    """Pages hold patients' data: no browser or proxy keeps a copy."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Mark the response as not to be stored."""
        response = self.get_response(request)
        response.setdefault("Cache-Control", "private, no-store")
        return response
