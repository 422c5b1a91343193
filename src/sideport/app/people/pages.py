"""What the pages of accounts show, as one frozen value a page."""

from dataclasses import dataclass

from django.contrib.auth.models import AnonymousUser
from django.forms import Form
from django.http import HttpRequest
from django.utils.safestring import SafeString

from ..planning.frames import Frame, bare_frame
from .models import Account, AccountChange, ReadLog
from .roles import RIGHTS, Permission, Rights, Role

__all__ = [
    "CodesPage", "EnrolPage", "FormPage", "KeptPage", "OwnPage", "PeoplePage", "PersonPage", "ReadsPage", "SignInPage",
    "own_page", "people_page", "person_page", "plain_page", "reads_page",
]  # fmt: skip

READS_SHOWN = 200


@dataclass(frozen=True, slots=True)
class FormPage:
    """A page around one form."""

    frame: Frame
    form: Form
    next: str = ""


@dataclass(frozen=True, slots=True)
class SignInPage:
    """The sign-in page."""

    frame: Frame
    form: Form
    next: str
    roles: tuple[Role, ...]
    demo: bool
    """Whether walking in is offered."""
    first: bool
    """Whether an administrator can be made with the printed code."""


@dataclass(frozen=True, slots=True)
class KeptPage:
    """What was being sent when the screen locked."""

    frame: Frame
    path: str
    fields: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class EnrolPage:
    """A new authenticator: the picture to scan, the key to type, and the form for its first code."""

    frame: Frame
    form: Form
    picture: SafeString
    key: str
    due: bool
    """Whether the role has to have one before anything else."""


@dataclass(frozen=True, slots=True)
class CodesPage:
    """Codes shown once."""

    frame: Frame
    codes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OwnPage:
    """The person's own account."""

    frame: Frame
    account: Account
    rights: Rights
    may: tuple[Permission, ...]
    second_factor: bool
    recovery_left: int
    changes: tuple[AccountChange, ...]


@dataclass(frozen=True, slots=True)
class PeoplePage:
    """Everybody of the unit."""

    frame: Frame
    people: tuple[Account, ...]


@dataclass(frozen=True, slots=True)
class PersonPage:
    """One person, for the administrator."""

    frame: Frame
    person: Account
    form: Form
    rights: tuple[Rights, ...]
    changes: tuple[AccountChange, ...]
    code: str = ""
    """A welcome code, shown once."""


@dataclass(frozen=True, slots=True)
class ReadsPage:
    """Who read what."""

    frame: Frame
    wanted: str
    reads: tuple[ReadLog, ...]
    more: bool


def plain_page(request: HttpRequest, current: str) -> Frame:
    """The frame of a page of accounts."""
    return bare_frame(current, getattr(request, "user", AnonymousUser()))


def own_page(request: HttpRequest, account: Account, *, second_factor: bool, recovery_left: int) -> OwnPage:
    """The page of the person's own account."""
    rights = RIGHTS[Role(account.role)]
    return OwnPage(
        frame=plain_page(request, "own"),
        account=account,
        rights=rights,
        may=tuple(permission for permission in Permission if permission in rights.permissions),
        second_factor=second_factor,
        recovery_left=recovery_left,
        changes=tuple(account.changes.select_related("by")[:20]),
    )


def people_page(request: HttpRequest, unit: str) -> PeoplePage:
    """The page of everybody."""
    return PeoplePage(plain_page(request, "people"), tuple(Account.objects.of_unit(unit)))


def person_page(request: HttpRequest, person: Account, form: Form, code: str = "") -> PersonPage:
    """The page of one person."""
    changes = tuple(person.changes.select_related("by")[:50])
    return PersonPage(plain_page(request, "people"), person, form, tuple(RIGHTS.values()), changes, code)


def reads_page(request: HttpRequest, unit: str, wanted: str) -> ReadsPage:
    """The newest reads, of one patient or of all."""
    rows = ReadLog.objects.filter(unit=unit).select_related("account")
    if wanted:
        rows = rows.filter(subject=wanted)
    found = tuple(rows[: READS_SHOWN + 1])
    return ReadsPage(plain_page(request, "reads"), wanted, found[:READS_SHOWN], len(found) > READS_SHOWN)
