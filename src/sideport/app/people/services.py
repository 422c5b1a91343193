"""What changes accounts. Each change says who made it and when, in the same transaction."""

import re
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from django.contrib.auth.hashers import check_password, make_password
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F
from django_otp.plugins.otp_static.models import StaticDevice
from django_otp.plugins.otp_totp.models import TOTPDevice

from .codes import new_code, redeem
from .models import Account, AccountChange, CodePurpose
from .roles import Role

__all__ = [
    "NewPerson",
    "PinResult",
    "add_person",
    "change_role",
    "check_pin",
    "close_account",
    "close_demo_accounts",
    "make_account",
    "make_first_administrator",
    "note",
    "reopen_account",
    "send_welcome_again",
    "set_password",
    "set_pin",
    "use_welcome",
    "username_of",
]

PIN_FORM = re.compile(r"[0-9]{6,8}")
MOST_PIN_FAILURES = 5
USERNAME_FORM = re.compile(r"[^\sA-Z]{2,60}")


@dataclass(frozen=True, slots=True)
class NewPerson:
    """Who is to be given an account."""

    username: str
    name: str
    role: Role
    unit: str


class PinResult:
    """What came of typing a PIN."""

    RIGHT, WRONG, SPENT, NONE = "right", "wrong", "spent", "none"


def username_of(typed: str) -> str:
    """A sign-in name as it is kept.

    Raises
    ------
    ValidationError
        When it is too short or too long, or has a space in it.
    """
    name = typed.strip().lower()
    if not USERNAME_FORM.fullmatch(name):
        raise ValidationError("Use 2 to 60 letters, digits or signs without a space.")
    return name


def make_account(
    *, person: NewPerson, password: str | None, actor: Account | None, now: datetime, invented: bool = False
) -> Account:
    """Make an account, with a password or without one until a welcome code is used.

    Raises
    ------
    ValidationError
        When the sign-in name is taken or cannot be one, or the password breaks a rule.
    """
    account = Account(
        username=username_of(person.username), name=person.name.strip(), role=person.role, unit=person.unit.strip(),
        invented=invented, created=now,
    )  # fmt: skip
    if password is None:
        account.set_unusable_password()
    else:
        validate_password(password, account)
        account.set_password(password)
    account.full_clean()
    with transaction.atomic():
        account.save(force_insert=True)
        note(account, actor, now, f"made, {Role(person.role).label.lower()}")
    return account


def make_first_administrator(*, typed: str, person: NewPerson, password: str, now: datetime) -> Account | None:
    """Make an administrator for whoever holds the printed code; ``None`` when the code does not open the door.

    Raises
    ------
    ValidationError
        When name or password break a rule; the code stays good.
    """
    with transaction.atomic():
        if not redeem(purpose=CodePurpose.FIRST, account=None, typed=typed, now=now):
            return None
        return make_account(person=person, password=password, actor=None, now=now)


def use_welcome(*, username: str, typed: str, password: str, now: datetime) -> Account | None:
    """Give an account its first password in exchange for its code; ``None`` when they do not belong together.

    Raises
    ------
    ValidationError
        When the password breaks a rule; the code stays good.
    """
    account = Account.objects.filter(username=username.strip().lower(), is_active=True).first()
    if account is None:
        return None
    with transaction.atomic():
        if not redeem(purpose=CodePurpose.WELCOME, account=account, typed=typed, now=now):
            return None
        set_password(account=account, password=password, actor=account, now=now)
    return account


def add_person(*, person: NewPerson, actor: Account, now: datetime) -> tuple[Account, str]:
    """Make an account and the code with which its owner chooses a password."""
    with transaction.atomic():
        account = make_account(person=person, password=None, actor=actor, now=now, invented=actor.invented)
        return account, new_code(purpose=CodePurpose.WELCOME, account=account, now=now)


def send_welcome_again(*, account: Account, actor: Account, now: datetime) -> str:
    """For someone who lost password or phone: both end, and a new code opens the account."""
    with transaction.atomic():
        account.set_unusable_password()
        account.pin, account.pin_failures = "", 0
        account.save(update_fields=["password", "pin", "pin_failures"])
        TOTPDevice.objects.filter(user=account).delete()
        StaticDevice.objects.filter(user=account).delete()
        note(account, actor, now, "password and second step taken away, new code given")
        return new_code(purpose=CodePurpose.WELCOME, account=account, now=now)


def change_role(*, account: Account, role: Role, actor: Account, now: datetime) -> None:
    """Give a person another role.

    Raises
    ------
    ValidationError
        When the unit would be left without an administrator.
    """
    with transaction.atomic():
        if role != Role.ADMINISTRATOR:
            keep_an_administrator(account)
        before = Role(account.role)
        if before == role:
            return
        account.role = role
        account.save(update_fields=["role"])
        note(account, actor, now, f"role {before.label.lower()} became {role.label.lower()}")


def close_account(*, account: Account, actor: Account, now: datetime) -> None:
    """Close an account; what its owner did stays. Open sessions end with their next click.

    Raises
    ------
    ValidationError
        When the unit would be left without an administrator.
    """
    with transaction.atomic():
        keep_an_administrator(account)
        account.is_active = False
        account.save(update_fields=["is_active"])
        account.codes.filter(used=None).delete()
        note(account, actor, now, "closed")


def reopen_account(*, account: Account, actor: Account, now: datetime) -> None:
    """Open a closed account again."""
    with transaction.atomic():
        account.is_active = True
        account.save(update_fields=["is_active"])
        note(account, actor, now, "opened again")


def keep_an_administrator(account: Account) -> None:
    """Refuse when no other administrator of the unit can sign in."""
    if account.role != Role.ADMINISTRATOR or account.invented:
        return
    others = Account.objects.active_administrators().filter(unit=account.unit).exclude(pk=account.pk)
    if account.is_active and not others.exists():
        raise ValidationError(f"{account.name} is the only administrator. Make another one first.")


def set_password(*, account: Account, password: str, actor: Account, now: datetime) -> None:
    """Give an account a new password; its other sessions end.

    Raises
    ------
    ValidationError
        When the password breaks a rule.
    """
    validate_password(password, account)
    with transaction.atomic():
        account.set_password(password)
        account.save(update_fields=["password"])
        note(account, actor, now, "password chosen")


def set_pin(*, account: Account, pin: str, now: datetime) -> None:
    """Give an account the PIN that unlocks an idle screen.

    Raises
    ------
    ValidationError
        When it is not 6 to 8 digits, or one of the first that anyone would try.
    """
    if not PIN_FORM.fullmatch(pin):
        raise ValidationError("Use 6 to 8 digits.")
    steps = {(int(after) - int(before)) % 10 for before, after in pairwise(pin)}
    if steps in ({0}, {1}, {9}):
        raise ValidationError("Use digits that are neither all the same nor in a row.")
    with transaction.atomic():
        account.pin, account.pin_failures = make_password(pin), 0
        account.save(update_fields=["pin", "pin_failures"])
        note(account, account, now, "PIN chosen")


def check_pin(*, account: Account, pin: str) -> str:
    """Compare a PIN; the fifth wrong one in a row, on whatever device, asks for the whole sign-in again."""
    if not account.pin:
        return PinResult.NONE
    counted = Account.objects.filter(pk=account.pk, pin_failures__lt=MOST_PIN_FAILURES)
    if not counted.update(pin_failures=F("pin_failures") + 1):
        return PinResult.SPENT
    if check_password(pin, account.pin):
        Account.objects.filter(pk=account.pk).update(pin_failures=0)
        return PinResult.RIGHT
    account.refresh_from_db(fields=["pin_failures"])
    return PinResult.SPENT if account.pin_failures >= MOST_PIN_FAILURES else PinResult.WRONG


def close_demo_accounts() -> int:
    """End the accounts made in the demo unit, once its folder holds a real plan; returns how many."""
    return Account.objects.filter(invented=True, is_active=True).update(is_active=False)


def note(account: Account, actor: Account | None, now: datetime, what: str) -> None:
    """Write down one change."""
    AccountChange.objects.create(account=account, by=actor, at=now, what=what)
