"""Two middlewares: a view that says nothing about who may use it is closed, and an idle screen is locked."""

import time
from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.contrib.auth import logout
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, JsonResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect
from django.utils.http import urlencode

from ..demo import demo_is_open
from .models import Account

__all__ = [
    "KEPT",
    "LOCKED",
    "SEEN",
    "DeclaredOnly",
    "IdleLock",
    "lock_now",
    "open_while_locked",
    "unattended",
    "unlock_now",
]

GetResponse = Callable[[HttpRequest], HttpResponseBase]
SEEN, LOCKED, KEPT = "seen", "locked", "kept"
NOTE_EVERY_S = 30
MOST_KEPT = 200_000
SECRET_FIELDS = frozenset({"csrfmiddlewaretoken", "password", "new_password", "again", "pin", "old_password", "token"})


class DeclaredOnly:
    """Close every view that does not declare whom it is for."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Nothing before the view is known."""
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view: Callable[..., Any], args: Any, kwargs: Any) -> None:
        """Refuse an undeclared view."""
        del request, args, kwargs
        if getattr(view, "needed", None) is None:
            raise PermissionDenied


class IdleLock:
    """Lock a session that was not used for a while; the person, the page and what was being sent are kept."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Nothing before the view is known."""
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Callable[..., Any], args: Any, kwargs: Any
    ) -> HttpResponseBase | None:
        """Send a locked session to the lock screen; note the time of any other."""
        del args, kwargs
        account = request.user
        if not isinstance(account, Account):
            return None
        if account.invented and not demo_is_open(request):
            logout(request)
            return None
        now = time.time()
        seen = float(request.session.get(SEEN, now))
        if now - seen > settings.IDLE_LOCK_S:
            request.session[LOCKED] = True
        if request.session.get(LOCKED):
            return None if getattr(view, "open_while_locked", False) else to_lock_screen(request)
        if getattr(view, "unattended", False):
            return None
        if SEEN not in request.session or now - seen >= NOTE_EVERY_S:
            request.session[SEEN] = now
        return None


def open_while_locked(view: Callable[..., HttpResponseBase]) -> Callable[..., HttpResponseBase]:
    """Mark a view that a locked session may still use: the lock screen itself and signing out."""
    view.open_while_locked = True  # type: ignore[attr-defined]
    return view


def unattended(view: Callable[..., HttpResponseBase]) -> Callable[..., HttpResponseBase]:
    """Mark a view that a page's script asks by itself, such as a clock: being asked is no sign of a person."""
    view.unattended = True  # type: ignore[attr-defined]
    return view


def to_lock_screen(request: HttpRequest) -> HttpResponseBase:
    """The way to the lock screen; a form that was being sent waits in the session, on the server."""
    if request.method in {"GET", "HEAD"}:
        return redirect(f"/lock/?{urlencode({'next': request.get_full_path()})}")
    fields = [(name, value) for name, values in request.POST.lists() for value in values if name not in SECRET_FIELDS]
    if request.headers.get("Sec-Fetch-Mode") in {"cors", "same-origin"}:
        return JsonResponse({"locked": True}, status=423)
    if sum(len(name) + len(str(value)) for name, value in fields) <= MOST_KEPT:
        request.session[KEPT] = {"path": request.get_full_path(), "fields": fields}
    return redirect("lock")


def lock_now(request: HttpRequest) -> None:
    """Lock this session."""
    request.session[LOCKED] = True


def unlock_now(request: HttpRequest) -> None:
    """Unlock this session and count idle time anew."""
    request.session.pop(LOCKED, None)
    request.session[SEEN] = time.time()
