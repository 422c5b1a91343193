"""One-time codes: made, shown once to whoever asked for them, kept as a hash, good once and not for long."""

import hashlib
import hmac
import secrets
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import F

from .models import Account, CodePurpose, OneTimeCode

__all__ = ["first_code_is_open", "new_code", "redeem"]

LETTERS = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
LENGTH, GROUP = 12, 4
LASTS = {CodePurpose.FIRST: timedelta(hours=1), CodePurpose.WELCOME: timedelta(days=3)}
MOST_FAILURES = 10


def new_code(*, purpose: CodePurpose, account: Account | None, now: datetime) -> str:
    """A fresh code in groups of four letters; codes for the same door given before end."""
    letters = "".join(secrets.choice(LETTERS) for _ in range(LENGTH))
    with transaction.atomic():
        OneTimeCode.objects.filter(purpose=purpose, account=account, used=None).delete()
        OneTimeCode.objects.create(
            purpose=purpose, account=account, hashed=hashed(letters), created=now, expires=now + LASTS[purpose]
        )
    return "-".join(letters[at : at + GROUP] for at in range(0, LENGTH, GROUP))


def first_code_is_open(now: datetime) -> bool:
    """Whether an administrator can be made with a code right now."""
    return OneTimeCode.objects.filter(
        purpose=CodePurpose.FIRST, used=None, expires__gt=now, failures__lt=MOST_FAILURES
    ).exists()


def redeem(*, purpose: CodePurpose, account: Account | None, typed: str, now: datetime) -> bool:
    """Use a code up: true once for the right one in time; after ten wrong ones the door closes."""
    offered = hashed("".join(letter for letter in typed.upper() if letter.isalnum()))
    live = OneTimeCode.objects.filter(
        purpose=purpose, account=account, used=None, expires__gt=now, failures__lt=MOST_FAILURES
    )
    for code in live:
        if hmac.compare_digest(code.hashed, offered):
            return OneTimeCode.objects.filter(pk=code.pk, used=None).update(used=now) == 1
    live.update(failures=F("failures") + 1)
    return False


def hashed(letters: str) -> str:
    """What is kept of a code."""
    return hashlib.sha256(letters.encode()).hexdigest()
