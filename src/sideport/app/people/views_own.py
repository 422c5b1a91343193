"""Pages about one's own account: password, PIN, second step, recovery codes."""

from django.contrib.auth import update_session_auth_hash
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from ..access import account_of, any_account, anyone
from . import second
from .forms import ChangePasswordForm, PinForm, TokenForm
from .models import Account
from .pages import CodesPage, EnrolPage, FormPage, own_page, plain_page
from .services import note, set_password, set_pin
from .views_sign import add_errors

__all__ = ["codes", "enrol", "own", "password", "pin"]

form_view = require_http_methods(["GET", "HEAD", "POST"])


@any_account
@require_safe
def own(request: HttpRequest) -> HttpResponse:
    """The person's own account."""
    account = account_of(request)
    page = own_page(
        request, account, second_factor=second.has_second_factor(account),
        recovery_left=second.recovery_codes_left(account),
    )  # fmt: skip
    return render(request, "people/own.html", {"page": page})


@any_account
@form_view
def password(request: HttpRequest) -> HttpResponse:
    """Another password; this session goes on, all others of the account end."""
    account = account_of(request)
    form = ChangePasswordForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        if not knows_password(account, form.cleaned_data["old_password"]):
            form.add_error("old_password", "This is not your password.")
        else:
            try:
                set_password(account=account, password=form.cleaned_data["password"], actor=account, now=timezone.now())
            except ValidationError as error:
                add_errors(form, error)
            else:
                update_session_auth_hash(request, account)
                return redirect("own")
    return render(request, "people/password.html", {"page": FormPage(plain_page(request, "own"), form)})


@any_account
@form_view
def pin(request: HttpRequest) -> HttpResponse:
    """The PIN that unlocks an idle screen."""
    account = account_of(request)
    form = PinForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        if not knows_password(account, form.cleaned_data["old_password"]):
            form.add_error("old_password", "This is not your password.")
        else:
            try:
                set_pin(account=account, pin=form.cleaned_data["pin"], now=timezone.now())
            except ValidationError as error:
                form.add_error("pin", error)
            else:
                return redirect("own")
    return render(request, "people/pin.html", {"page": FormPage(plain_page(request, "own"), form)})


@anyone
@form_view
def enrol(request: HttpRequest) -> HttpResponse:
    """A first authenticator, or another in place of the one in use.

    Open before the second step because it is how that step begins; an account that has one must show it first.
    """
    if not isinstance(request.user, Account):
        return redirect("sign-in")
    account = account_of(request)
    has_one = second.has_second_factor(account)
    if has_one and not second.second_step_done(request):
        return redirect("second-step")
    if not account.has_usable_password():
        raise PermissionDenied
    form = TokenForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        if second.confirm_enrolment(request, form.cleaned_data["token"]):
            note(account, account, timezone.now(), "second step set up")
            return show_codes(request, account)
        form.add_error("token", "Not the right code. Compare the clock of the phone with this computer's.")
    device = second.begin_enrolment(account)
    page = EnrolPage(
        plain_page(request, "own"), form, second.picture_of(device), second.typed_key(device),
        due=account.needs_second_factor and not has_one,
    )  # fmt: skip
    return render(request, "people/enrol.html", {"page": page})


@any_account
@require_POST
def codes(request: HttpRequest) -> HttpResponse:
    """New recovery codes, shown once."""
    account = account_of(request)
    if not second.has_second_factor(account):
        raise PermissionDenied
    return show_codes(request, account)


def show_codes(request: HttpRequest, account: Account) -> HttpResponse:
    """Make recovery codes and show them."""
    made = second.new_recovery_codes(account)
    note(account, account, timezone.now(), "recovery codes made")
    return render(request, "people/codes.html", {"page": CodesPage(plain_page(request, "own"), made)})


def knows_password(account: Account, typed: str) -> bool:
    """Whether the password is the account's; invented accounts of the demo have none and may choose none."""
    return account.has_usable_password() and account.check_password(typed)
