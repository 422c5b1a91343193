"""Who may look: the doors of every view and the way to every object.

- ``@needs(Permission.X)`` before a view: the anonymous go to the sign-in page, whoever owes the second step goes there,
  and an account without the permission is refused (403). ``@any_account`` asks only for an account, ``@anyone`` for
  nothing. A view that declares none of them is closed to all (``people.gate.DeclaredOnly``).
- ``get_plan_for(user, id)`` and ``get_for(user, queryset, ...)``: an object of another unit does not exist (404).
- ``get_for_write(user, permission, queryset, ...)``: the same, and a reader who may not write is refused (403).
- ``log_read(request, subject=...)``: every view that shows a patient calls it first.
"""

from collections.abc import Callable
from functools import wraps
from typing import Any, Concatenate, ParamSpec, TypeVar

from django.contrib.auth.models import AnonymousUser
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.db import models
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect

from .people.models import Account
from .people.reads import log_read
from .people.roles import Permission, Role
from .people.second import second_step_done, second_step_owed
from .planning.models import StoredPlan

__all__ = [
    "ANYONE",
    "ANY_ACCOUNT",
    "NeverStored",
    "Permission",
    "Role",
    "account_of",
    "any_account",
    "anyone",
    "get_for",
    "get_for_write",
    "get_plan_for",
    "log_read",
    "needs",
    "of_unit",
]

GetResponse = Callable[[HttpRequest], HttpResponseBase]
Parts = ParamSpec("Parts")
View = Callable[Concatenate[HttpRequest, Parts], HttpResponseBase]
Row = TypeVar("Row", bound=models.Model)
User = Account | AnonymousUser
ANYONE, ANY_ACCOUNT = "anyone", "any account"


def needs(permission: Permission) -> Callable[[View[Parts]], View[Parts]]:
    """Open a view to signed-in accounts whose role has the permission, and to nobody else."""
    return lambda view: guarded(view, permission)


def any_account(view: View[Parts]) -> View[Parts]:
    """Open a view to every signed-in account: pages about the account itself, and the bibliography."""
    return guarded(view, None)


def anyone(view: View[Parts]) -> View[Parts]:
    """Open a view to people who have not signed in; it shows nothing of the unit."""
    view.needed = ANYONE  # type: ignore[attr-defined]
    return view


def guarded(view: View[Parts], permission: Permission | None) -> View[Parts]:
    """The view behind its door, which says what it asks for."""

    @wraps(view)
    def door(request: HttpRequest, /, *args: Parts.args, **kwargs: Parts.kwargs) -> HttpResponseBase:
        account = request.user
        if not isinstance(account, Account):
            return redirect_to_login(request.get_full_path())
        if not second_step_done(request):
            return redirect(second_step_owed(account))
        if permission is not None and not account.may(permission):
            raise PermissionDenied
        return view(request, *args, **kwargs)

    door.needed = ANY_ACCOUNT if permission is None else permission  # type: ignore[attr-defined]
    return door


def account_of(request: HttpRequest) -> Account:
    """The signed-in account.

    Raises
    ------
    PermissionDenied
        When nobody is signed in.
    """
    if not isinstance(request.user, Account):
        raise PermissionDenied
    return request.user


def of_unit(user: User, rows: models.QuerySet[Row], *, field: str = "unit") -> models.QuerySet[Row]:
    """Those rows that belong to the person's unit; none for the anonymous."""
    return rows.filter(**{field: user.unit}) if isinstance(user, Account) else rows.none()


def get_for(user: User, rows: models.QuerySet[Row], *, field: str = "unit", **which: Any) -> Row:
    """The one row asked for, or 404 when there is none or it belongs to another unit."""
    return get_object_or_404(of_unit(user, rows, field=field), **which)


def get_for_write(
    user: User, permission: Permission, rows: models.QuerySet[Row], *, field: str = "unit", **which: Any
) -> Row:
    """The one row asked for, to be written about: strangers get 404, readers without the permission 403."""
    row = get_for(user, rows, field=field, **which)
    if not (isinstance(user, Account) and user.may(permission)):
        raise PermissionDenied
    return row


def get_plan_for(user: User, plan_id: int) -> StoredPlan:
    """The stored plan without its document, or 404."""
    return get_for(user, StoredPlan.objects.light(), pk=plan_id)


class NeverStored:
    """Pages hold patients' data: no browser or proxy keeps a copy."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Mark the response as not to be stored."""
        response = self.get_response(request)
        response.setdefault("Cache-Control", "private, no-store")
        return response
