"""Without a certificate the site belongs to the computer it runs on."""

from collections.abc import Callable
from ipaddress import ip_address

from django.conf import settings
from django.http import HttpRequest, HttpResponseForbidden
from django.http.response import HttpResponseBase

__all__ = ["LoopbackOnly", "is_loopback"]

GetResponse = Callable[[HttpRequest], HttpResponseBase]
REFUSAL = (
    "Sideport answers only to the computer it runs on, because it was started without a certificate.\n"
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


class LoopbackOnly:
    """Refuse requests from any other machine, in plain words, unless the site speaks HTTPS."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Pass a loopback request on; answer 403 to any other."""
        if not settings.HTTPS and not is_loopback(request.META.get("REMOTE_ADDR", "")):
            return HttpResponseForbidden(REFUSAL, content_type="text/plain; charset=utf-8")
        return self.get_response(request)
