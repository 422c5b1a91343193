"""The demo unit is invented, so one may walk in; this is how the program knows that it serves nothing else.

Walking in is offered only while the folder's plan and every plan in its database was made by ``sideport demo``, on the
loopback address, without a certificate. A real plan written into the same folder closes the door by itself, and the
accounts made in the demo end with it.
"""

from django.conf import settings
from django.http import HttpRequest

from .loopback import is_loopback

__all__ = ["demo_is_open"]


def demo_is_open(request: HttpRequest) -> bool:
    """Whether people may walk in: an invented unit and nothing else, shown to its own computer."""
    from .planning.models import StoredPlan

    if not settings.DEMO_DIGESTS or settings.HTTPS or not is_loopback(request.META.get("REMOTE_ADDR", "")):
        return False
    return not StoredPlan.objects.exclude(digest__in=settings.DEMO_DIGESTS).exists()
