"""Signing in and out, the second step, the lock screen, and the pages that say no."""

from datetime import timedelta
from typing import Any

from django.conf import settings
from django.contrib.auth import authenticate, logout
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from ..access import anyone
from ..demo import demo_is_open
from . import gate, second, sessions
from .codes import first_code_is_open
from .forms import FirstForm, SignInForm, TokenForm, UnlockForm, WelcomeForm
from .models import Account
from .pages import FormPage, KeptPage, SignInPage, plain_page
from .roles import Role
from .services import NewPerson, PinResult, check_pin, make_first_administrator, use_welcome

__all__ = [
    "first",
    "kept",
    "lock",
    "lock_at_once",
    "refused",
    "second_step",
    "sign_in",
    "sign_out",
    "stale_form",
    "too_many",
    "walk_in",
    "welcome",
]

form_view = require_http_methods(["GET", "HEAD", "POST"])


@anyone
@form_view
def sign_in(request: HttpRequest) -> HttpResponse:
    """Name and password."""
    form = SignInForm(request, data=request.POST or None)
    if request.method == "POST" and form.is_valid():
        account = form.get_user()
        assert isinstance(account, Account)
        sessions.sign_in_as(request, account)
        return redirect(sessions.next_of(request))
    page = SignInPage(
        frame=plain_page(request, "sign-in"), form=form, next=sessions.next_of(request), roles=tuple(Role),
        demo=demo_is_open(request), first=first_code_is_open(timezone.now()),
    )  # fmt: skip
    return render(request, "people/sign_in.html", {"page": page})


@anyone
@require_POST
def walk_in(request: HttpRequest) -> HttpResponse:
    """Enter the demo unit as one of its invented people; elsewhere there is no such address."""
    role = request.POST.get("role", Role.LEAD_SURGEON.value)
    if not demo_is_open(request) or role not in Role.values:
        raise Http404
    sessions.sign_in_as(request, sessions.demo_account(Role(role)))
    return redirect(sessions.next_of(request))


@anyone
@form_view
def first(request: HttpRequest) -> HttpResponse:
    """Make the administrator with the printed code; while there is no live code there is no such address."""
    now = timezone.now()
    if not first_code_is_open(now):
        raise Http404
    form = FirstForm(request.POST or None, initial={"unit": sessions.newest_unit()})
    if request.method == "POST" and form.is_valid():
        found = form.cleaned_data
        person = NewPerson(found["username"], found["name"], Role.ADMINISTRATOR, found["unit"])
        try:
            account = make_first_administrator(typed=found["code"], person=person, password=found["password"], now=now)
        except ValidationError as error:
            add_errors(form, error)
        else:
            if account is not None:
                sessions.sign_in_as(request, account)
                return redirect("second-enrol")
            form.add_error("code", "This is not the code, or its hour is over. Start the program again for a new one.")
    return render(request, "people/first.html", {"page": FormPage(plain_page(request, "first"), form)})


@anyone
@form_view
def welcome(request: HttpRequest) -> HttpResponse:
    """Choose a password with the code that the administrator gave."""
    form = WelcomeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        found = form.cleaned_data
        try:
            account = use_welcome(
                username=found["username"], typed=found["code"], password=found["password"], now=timezone.now()
            )
        except ValidationError as error:
            add_errors(form, error)
        else:
            if account is not None:
                sessions.sign_in_as(request, account)
                return redirect("home")
            form.add_error("code", "Name and code do not belong together, or the code is over. Ask for a new one.")
    return render(request, "people/welcome.html", {"page": FormPage(plain_page(request, "welcome"), form)})


@anyone
@form_view
def second_step(request: HttpRequest) -> HttpResponse:
    """The code of the authenticator, after the password."""
    if not isinstance(request.user, Account):
        return redirect("sign-in")
    form = TokenForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        if second.verify_second_step(request, form.cleaned_data["token"]):
            return redirect(sessions.next_of(request))
        form.add_error("token", "Not accepted. Wait for the next code; each wrong one makes the wait longer.")
    page = FormPage(plain_page(request, "second-step"), form, next=sessions.next_of(request))
    return render(request, "people/second_step.html", {"page": page})


@anyone
@gate.open_while_locked
@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """End the session."""
    logout(request)
    return redirect("sign-in")


@anyone
@gate.open_while_locked
@require_POST
def lock_at_once(request: HttpRequest) -> HttpResponse:
    """Lock the screen now."""
    if isinstance(request.user, Account):
        gate.lock_now(request)
    return redirect("lock")


@anyone
@gate.open_while_locked
@form_view
def lock(request: HttpRequest) -> HttpResponse:
    """The lock screen: the same person goes on at the same page; anybody else signs out first."""
    account = request.user
    by_script = "application/json" in request.headers.get("Accept", "")
    if not isinstance(account, Account):
        return JsonResponse({"sign_in": True}, status=401) if by_script else redirect("sign-in")
    form = UnlockForm(request.POST or None, has_pin=bool(account.pin))
    if request.method == "POST" and form.is_valid():
        result = unlocked(request, account, form.cleaned_data["secret"])
        if result == PinResult.RIGHT:
            gate.unlock_now(request)
            if by_script:
                return JsonResponse({"open": True})
            return redirect("kept" if gate.KEPT in request.session else sessions.next_of(request))
        if result == PinResult.SPENT:
            logout(request)
            return JsonResponse({"sign_in": True}, status=401) if by_script else redirect("sign-in")
        form.add_error("secret", "Not right. After five wrong ones in a row the whole password is asked for.")
    elif request.method != "POST" and not request.session.get(gate.LOCKED):
        return redirect(sessions.next_of(request))
    if by_script:
        return JsonResponse({"open": False}, status=422)
    page = FormPage(plain_page(request, "lock"), form, next=sessions.next_of(request))
    return render(request, "people/lock.html", {"page": page})


def unlocked(request: HttpRequest, account: Account, typed: str) -> str:
    """What came of typing the PIN, or the password where there is no PIN."""
    if account.pin:
        return check_pin(account=account, pin=typed)
    if account.invented and not account.has_usable_password() and demo_is_open(request):
        return PinResult.RIGHT
    found = authenticate(request, username=account.username, password=typed)
    return PinResult.RIGHT if found is not None and found.pk == account.pk else PinResult.WRONG


@anyone
@form_view
def kept(request: HttpRequest) -> HttpResponseBase:
    """What was being sent when the screen locked: shown, and sent on to where it was going or dropped."""
    waiting = request.session.get(gate.KEPT)
    if waiting is None or not isinstance(request.user, Account):
        return redirect("home")
    if request.method == "POST":
        del request.session[gate.KEPT]
        if "drop" in request.POST:
            return redirect("home")
        # 307 asks the browser to send the same form there, so that the view sees an ordinary POST.
        return HttpResponse(status=307, headers={"Location": waiting["path"]})
    page = KeptPage(plain_page(request, "kept"), waiting["path"], tuple(map(tuple, waiting["fields"])))
    return render(request, "people/kept.html", {"page": page})


def add_errors(form: Any, error: ValidationError) -> None:
    """Put a service's refusal beside the field it is about."""
    if hasattr(error, "error_dict"):
        for field, errors in error.error_dict.items():
            form.add_error(field if field in form.fields else None, errors)
    else:
        form.add_error("password" if "password" in form.fields else None, error.messages)


def too_many(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
    """What a name that was tried too often gets."""
    del args, kwargs
    wait: timedelta = settings.AXES_COOLOFF_TIME
    page = {"frame": plain_page(request, "sign-in"), "minutes": int(wait.total_seconds() // 60)}
    return render(request, "people/too_many.html", {"page": page}, status=429)


def refused(request: HttpRequest, exception: Exception) -> HttpResponse:
    """What a role that may not do something gets."""
    del exception
    return render(request, "people/refused.html", {"page": {"frame": plain_page(request, "refused")}}, status=403)


def stale_form(request: HttpRequest, reason: str = "") -> HttpResponse:
    """What a form gets that does not come from this site, or from a session that is over."""
    del reason
    return render(request, "people/stale.html", {"page": {"frame": plain_page(request, "stale")}}, status=403)
