"""The log of reads: one function, called by every view that shows a patient."""

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest
from django.utils import timezone

from .models import Account, ReadLog

__all__ = ["log_read"]

Kind = ReadLog.Kind
LONGEST = 200


def log_read(request: HttpRequest, *, subject: str, kind: "ReadLog.Kind" = Kind.PATIENT, detail: str = "") -> None:
    """Write down that the signed-in person was shown something about patients.

    Call it before the page is made: when the row cannot be written, nothing is shown.

    Parameters
    ----------
    request : HttpRequest
        The request that is being answered.
    subject : str
        The patient's number; for a list or an export, what it is, such as ``plan 3``.
    kind : ReadLog.Kind
        One patient, a list, or an export with or without names.
    detail : str
        What narrows it down: the side, the visit.

    Raises
    ------
    PermissionDenied
        When nobody is signed in.
    """
    account = request.user
    if not isinstance(account, Account):
        raise PermissionDenied
    match = request.resolver_match
    ReadLog.objects.create(
        account=account,
        unit=account.unit,
        at=timezone.now(),
        kind=kind,
        subject=subject[:LONGEST],
        view=(match.view_name if match else "") or "",
        detail=detail[:LONGEST],
    )
