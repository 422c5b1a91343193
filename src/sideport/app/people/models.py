"""Accounts, one-time codes, and the log of who read what."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.contrib.auth.models import AbstractBaseUser, BaseUserManager
from django.db import models

from .roles import Permission, Role, rights_of

__all__ = ["Account", "AccountChange", "CodePurpose", "OneTimeCode", "ReadLog"]


class AccountManager(BaseUserManager["Account"]):
    """Accounts by what they sign in with."""

    def get_by_natural_key(self, username: str | None) -> Account:
        """The account of a sign-in name, in whatever case it was typed."""
        return self.get(username=(username or "").strip().lower())

    def of_unit(self, unit: str) -> models.QuerySet[Account]:
        """The people of one unit, by name."""
        return self.filter(unit=unit).order_by("name", "pk")

    def active_administrators(self) -> models.QuerySet[Account]:
        """Administrators who can sign in."""
        return self.filter(role=Role.ADMINISTRATOR, is_active=True).exclude(password__startswith="!")  # noqa: S106


class Account(AbstractBaseUser):
    """A person who signs in. What they may do follows from the role alone."""

    username = models.CharField("sign-in name", max_length=60, unique=True, help_text="Lower case.")
    name = models.CharField(max_length=200)
    role = models.CharField(max_length=20, choices=Role.choices)
    unit = models.CharField(max_length=200, help_text="As the unit's plans and records name it.")
    is_active = models.BooleanField(default=True)
    pin = models.CharField(max_length=200, blank=True, help_text="Hash of the PIN; empty: none chosen.")
    pin_failures = models.PositiveSmallIntegerField(default=0)
    invented = models.BooleanField(default=False, help_text="Made in the demo unit; ends when a real plan comes.")
    created = models.DateTimeField()

    USERNAME_FIELD = "username"
    REQUIRED_FIELDS: ClassVar[list[str]] = []
    objects = AccountManager()

    class Meta:
        """Sign-in names are lower case, roles are known, everyone belongs to a unit."""

        constraints = (
            models.CheckConstraint(condition=models.Q(role__in=Role.values), name="people_role_known"),
            models.CheckConstraint(condition=~models.Q(unit=""), name="people_unit_named"),
            models.CheckConstraint(condition=~models.Q(name=""), name="people_name_given"),
            models.CheckConstraint(condition=models.Q(username__regex=r"^[^A-Z\s]+$"), name="people_username_lower"),
        )

    def __str__(self) -> str:
        return self.name

    def may(self, permission: Permission) -> bool:
        """Whether the role lets this person do something."""
        return self.is_active and permission in rights_of(self.role)

    @property
    def needs_second_factor(self) -> bool:
        """Whether a password alone is too little for this role."""
        return self.role in settings.SECOND_FACTOR_ROLES


class CodePurpose(models.TextChoices):
    """What a one-time code opens."""

    FIRST = "first", "Make an administrator"
    WELCOME = "welcome", "Choose a password"


class OneTimeCode(models.Model):
    """A code that opens one door once. Only its hash is kept."""

    purpose = models.CharField(max_length=8, choices=CodePurpose.choices)
    account = models.ForeignKey(Account, on_delete=models.CASCADE, null=True, blank=True, related_name="codes")
    hashed = models.CharField(max_length=64, help_text="SHA-256 of the code, which has 60 random bits.")
    created = models.DateTimeField()
    expires = models.DateTimeField()
    used = models.DateTimeField(null=True, blank=True)
    failures = models.PositiveSmallIntegerField(default=0)

    class Meta:
        """A welcome belongs to an account, the first code to none yet."""

        constraints = (
            models.CheckConstraint(
                condition=models.Q(purpose="first", account=None) | models.Q(purpose="welcome", account__isnull=False),
                name="people_code_has_its_account",
            ),
        )

    def __str__(self) -> str:
        return f"{self.purpose} code of {self.created:%Y-%m-%d %H:%M}"


class AccountChange(models.Model):
    """One thing done to an account: who, when, what. Rows are only ever added."""

    account = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="changes")
    by = models.ForeignKey(Account, on_delete=models.PROTECT, null=True, related_name="changes_made")
    at = models.DateTimeField()
    what = models.CharField(max_length=200)

    class Meta:
        """Newest first."""

        ordering = ("-at", "-pk")

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.what}"


class ReadLog(models.Model):
    """One look at patients' data: who, when, whose, through which page. Rows are only ever added."""

    class Kind(models.TextChoices):
        """How much was shown."""

        PATIENT = "patient", "One patient"
        LIST = "list", "A list of patients"
        EXPORT = "export", "An export without names"
        EXPORT_NAMES = "export-names", "An export with names"

    account = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="reads")
    unit = models.CharField(max_length=200)
    at = models.DateTimeField(db_index=True)
    kind = models.CharField(max_length=12, choices=Kind.choices)
    subject = models.CharField(max_length=200, db_index=True, help_text="The patient's number, or the list.")
    view = models.CharField(max_length=60, help_text="The page's name.")
    detail = models.CharField(max_length=200, blank=True)

    class Meta:
        """Newest first."""

        ordering = ("-at", "-pk")
        constraints = (
            models.CheckConstraint(
                condition=models.Q(kind__in=["patient", "list", "export", "export-names"]),
                name="people_read_kind_known",
            ),
        )

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.kind} {self.subject}"
