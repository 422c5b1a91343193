"""The stock cast: one person of every role in the sample unit, and strangers of another unit."""

import time
from datetime import UTC, datetime
from importlib import import_module

from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.test import Client
from django_otp import DEVICE_ID_SESSION_KEY
from django_otp.plugins.otp_static.models import StaticDevice

from sideport.app.people.gate import SEEN
from sideport.app.people.models import Account
from sideport.app.people.roles import Role
from sideport.app.people.services import NewPerson, make_account

UNIT, OTHER_UNIT = "Quill Island Eye Unit", "Heron Point Eye Unit"
MADE = datetime(2031, 3, 1, 9, 0, tzinfo=UTC)
BACKEND = "django.contrib.auth.backends.ModelBackend"
PASSWORD = "seven boats before dawn"
NAMES = {
    Role.LEAD_SURGEON: "Wren Hollis",
    Role.SURGEON: "শিউলি নদী",
    Role.TRAINEE: "Pip Arden",
    Role.NURSE: "मीरा घाट",
    Role.TECHNICIAN: "Odo Finch",
    Role.STORE: "Marl Quay",
    Role.AUDITOR: "Sable Reed",
    Role.ADMINISTRATOR: "Ivo Marsh",
}


def person(role: Role, *, unit: str = UNIT, password: str | None = None) -> Account:
    """The person of a role in a unit, made when first asked for; without a password unless one is given."""
    username = role.value if unit == UNIT else f"other-{role.value}"
    found = Account.objects.filter(username=username).first()
    if found is not None:
        return found
    return make_account(person=NewPerson(username, NAMES[role], role, unit), password=password, actor=None, now=MADE)


def signed_in(account: Account, **client: object) -> Client:
    """A browser in which the account has signed in, second step and all."""
    browser = Client(**client)  # type: ignore[arg-type]
    browser.cookies[settings.SESSION_COOKIE_NAME] = session_of(account)
    return browser


def as_role(role: Role, *, unit: str = UNIT) -> Client:
    """A browser of the person of a role."""
    return signed_in(person(role, unit=unit))


def session_of(account: Account, *, second_step: bool = True) -> str:
    """The session cookie's value of a new session of the account."""
    session = import_module(settings.SESSION_ENGINE).SessionStore()
    session[SEEN] = time.time()
    session[SESSION_KEY] = str(account.pk)
    session[BACKEND_SESSION_KEY] = BACKEND
    session[HASH_SESSION_KEY] = account.get_session_auth_hash()
    if second_step and account.needs_second_factor:
        device, _ = StaticDevice.objects.get_or_create(user=account, confirmed=True, defaults={"name": "test"})
        session[DEVICE_ID_SESSION_KEY] = device.persistent_id
    session.save()
    return str(session.session_key)
