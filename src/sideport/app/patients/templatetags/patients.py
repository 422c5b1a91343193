"""Filters of patients' pages, and the key that seals what is being written on a shared tablet."""

import re

from django import template
from django.utils.crypto import salted_hmac

from ....optics.side import Side
from ...people.models import Account
from ...record.models import Person
from ...record.queries import person_facts

__all__ = ["as_side", "draft_key", "phone_written", "register", "saved_entries"]

register = template.Library()
ENTRIES = re.compile(r"[0-9a-f-]{36}(,[0-9a-f-]{36})*")


@register.filter
def as_side(value: str | Side) -> Side:
    """A side from the word that a table keeps."""
    return Side(value)


@register.filter
def phone_written(row: Person) -> str:
    """A telephone number as it was written: a plus in front matters to whoever dials."""
    return person_facts(row).phone


@register.filter
def saved_entries(saved: str) -> str:
    """The entries that were written just now; empty when the address names none."""
    return saved if ENTRIES.fullmatch(saved) else ""


@register.filter
def draft_key(user: object) -> str:
    """A key of the account, 32 bytes as hexadecimal digits, that ends with its password.

    The browser seals with it what is being written, so that another account on the same tablet cannot read it.
    """
    if not isinstance(user, Account):
        return ""
    return salted_hmac("sideport.draft", f"{user.pk}:{user.get_session_auth_hash()}", algorithm="sha256").hexdigest()
