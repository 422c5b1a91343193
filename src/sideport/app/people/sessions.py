"""Signing in, and where to go afterwards."""

from django.contrib.auth import login
from django.db import transaction
from django.http import HttpRequest
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme

from ..planning.models import StoredPlan
from .models import Account
from .roles import Role
from .services import NewPerson, make_account

__all__ = ["demo_account", "newest_unit", "next_of", "sign_in_as"]

BACKEND = "django.contrib.auth.backends.ModelBackend"


def sign_in_as(request: HttpRequest, account: Account) -> None:
    """Begin a session; wrong PINs of before are forgiven, because the whole password was shown."""
    login(request, account, backend=BACKEND)
    if account.pin_failures:
        Account.objects.filter(pk=account.pk).update(pin_failures=0)


def next_of(request: HttpRequest) -> str:
    """The page asked for before signing in or unlocking, if it is one of this site; else the start."""
    wanted = request.POST.get("next") or request.GET.get("next") or ""
    if url_has_allowed_host_and_scheme(wanted, {request.get_host()}, require_https=request.is_secure()):
        return wanted
    return reverse("home")


def newest_unit() -> str:
    """The unit of the newest plan; empty when there is none."""
    newest = StoredPlan.objects.light().newest_first().first()
    return newest.unit if newest else ""


def demo_account(role: Role) -> Account:
    """The invented person of a role, made when first needed. No password ever opens this account."""
    username, unit = f"demo-{role.value}", newest_unit()
    with transaction.atomic():
        found = Account.objects.filter(username=username, invented=True).first()
        if found is None:
            person = NewPerson(username=username, name=f"Invented {role.label.lower()}", role=role, unit=unit)
            return make_account(person=person, password=None, actor=None, now=timezone.now(), invented=True)
        Account.objects.filter(pk=found.pk).update(unit=unit, role=role, is_active=True)
    found.refresh_from_db()
    return found
