"""The second step of signing in: who owes it, who has done it, and the means to do it."""

import io
from base64 import b32encode
from typing import cast

import segno
from django.conf import settings
from django.db import transaction
from django.http import HttpRequest
from django.utils.safestring import SafeString, mark_safe
from django_otp import DEVICE_ID_SESSION_KEY, login, verify_token
from django_otp.plugins.otp_static.models import StaticDevice, StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from ..demo import demo_is_open
from .models import Account

__all__ = [
    "begin_enrolment",
    "confirm_enrolment",
    "has_second_factor",
    "new_recovery_codes",
    "picture_of",
    "recovery_codes_left",
    "second_step_done",
    "second_step_owed",
    "typed_key",
    "verify_second_step",
]

RECOVERY_CODES = 8
GROUP = 4


def has_second_factor(account: Account) -> bool:
    """Whether the account has a confirmed authenticator."""
    return bool(TOTPDevice.objects.filter(user=account, confirmed=True).exists())


def second_step_done(request: HttpRequest) -> bool:
    """Whether this session has shown what its account must show besides the password."""
    account = cast(Account, request.user)
    if DEVICE_ID_SESSION_KEY in request.session and account.is_verified():  # type: ignore[attr-defined]
        return True
    if account.invented and demo_is_open(request):
        return True
    return not (account.needs_second_factor or has_second_factor(account))


def second_step_owed(account: Account) -> str:
    """The page that this account has to pass next."""
    return "second-step" if has_second_factor(account) else "second-enrol"


def verify_second_step(request: HttpRequest, token: str) -> bool:
    """Check a code of the authenticator, or a recovery code, and remember it in the session.

    Each kind of code is slowed down by itself: every wrong one doubles the wait (django-otp).
    """
    account, written = cast(Account, request.user), "".join(token.split()).replace("-", "").lower()
    kind: type[TOTPDevice] | type[StaticDevice] = TOTPDevice if written.isdigit() else StaticDevice
    for device in kind.objects.filter(user=account, confirmed=True):
        if (found := verify_token(account, device.persistent_id, written)) is not None:
            login(request, found)
            return True
    return False


def begin_enrolment(account: Account) -> TOTPDevice:
    """The authenticator that waits for its first code; made when there is none."""
    device, _ = TOTPDevice.objects.get_or_create(user=account, confirmed=False, defaults={"name": "authenticator"})
    return device


def confirm_enrolment(request: HttpRequest, token: str) -> bool:
    """Take the waiting authenticator into use when it shows the right code; the one before it ends."""
    account = cast(Account, request.user)
    waiting = TOTPDevice.objects.filter(user=account, confirmed=False).first()
    if waiting is None or verify_token(account, waiting.persistent_id, "".join(token.split())) is None:
        return False
    with transaction.atomic():
        TOTPDevice.objects.filter(user=account, confirmed=True).delete()
        TOTPDevice.objects.filter(pk=waiting.pk).update(confirmed=True)
    waiting.refresh_from_db()
    login(request, waiting)
    return True


def new_recovery_codes(account: Account) -> tuple[str, ...]:
    """Codes for the day the phone is lost, each good once; those given before end."""
    with transaction.atomic():
        StaticDevice.objects.filter(user=account).delete()
        device = StaticDevice.objects.create(user=account, name="recovery codes", confirmed=True)
        codes = tuple(StaticToken.random_token() + StaticToken.random_token() for _ in range(RECOVERY_CODES))
        StaticToken.objects.bulk_create(StaticToken(device=device, token=code) for code in codes)
    return codes


def recovery_codes_left(account: Account) -> int:
    """How many recovery codes are unused."""
    return int(StaticToken.objects.filter(device__user=account).count())


def typed_key(device: TOTPDevice) -> str:
    """The secret as a person types it: base 32, in groups of four."""
    key = b32encode(device.bin_key).decode("ascii").rstrip("=")
    return " ".join(key[at : at + GROUP] for at in range(0, len(key), GROUP))


def picture_of(device: TOTPDevice) -> SafeString:
    """The secret as a QR code, drawn here: nothing is asked of another computer."""
    out = io.BytesIO()
    segno.make(device.config_url, error="m").save(
        out, kind="svg", xmldecl=False, svgns=True, border=4, omitsize=True, light="#fff", dark="#000", svgclass="qr",
        lineclass=None, title=f"Code to scan for {settings.OTP_TOTP_ISSUER}",
    )  # fmt: skip
    return mark_safe(out.getvalue().decode("utf-8"))  # noqa: S308
