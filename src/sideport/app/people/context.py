"""What every template knows about the session."""

from django.conf import settings
from django.http import HttpRequest

__all__ = ["session"]


def session(request: HttpRequest) -> dict[str, float]:
    """How long a page may lie unused before the curtain falls [s]."""
    del request
    return {"idle_s": settings.IDLE_LOCK_S}
