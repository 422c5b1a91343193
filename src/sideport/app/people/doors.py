"""Every address of the site with whom it opens for, read from the address configuration itself.

``python -m sideport.app.people.doors FILE`` writes the table of the documentation.
"""

import os
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver

from .roles import RIGHTS, Permission, Role

__all__ = ["Door", "access_page", "doors"]

ANYONE, ANY_ACCOUNT = "anyone", "any account"


@dataclass(frozen=True, slots=True)
class Door:
    """One address."""

    route: str
    """Its name."""
    path: str
    needed: str
    """A permission, ``any account``, ``anyone``; empty: closed to all."""

    @property
    def roles(self) -> tuple[Role, ...]:
        """The roles that it opens for."""
        if self.needed in {ANYONE, ANY_ACCOUNT}:
            return tuple(Role)
        return tuple(role for role in Role if self.needed in {*RIGHTS[role].permissions})


def doors() -> tuple[Door, ...]:
    """Every address, by its path."""
    return tuple(sorted(found(get_resolver().url_patterns, "/"), key=lambda door: door.path))


def found(patterns: Any, before: str) -> Iterator[Door]:
    """The addresses below a prefix."""
    for pattern in patterns:
        path = before + str(pattern.pattern)
        if isinstance(pattern, URLResolver):
            yield from found(pattern.url_patterns, path)
        elif isinstance(pattern, URLPattern):
            yield Door(pattern.name or path, path, str(getattr(pattern.callback, "needed", "")))


def access_page() -> str:
    """The table as a page of the documentation."""
    short = {role: role.label for role in Role}
    lines = [
        "# Who may do what",
        "",
        "Written by the program from its own address configuration; a test keeps it true. What belongs to another unit",
        "does not exist for the reader (404). A role without a tick is refused (403). Whoever has not signed in is",
        "sent to the sign-in page.",
        "",
        "## Roles and their permissions",
        "",
        "| may | " + " | ".join(short.values()) + " |",
        "| --- |" + " :-: |" * len(short),
    ]
    for permission in Permission:
        ticks = ("✓" if permission in RIGHTS[role].permissions else "" for role in Role)
        lines.append(f"| {permission.label} (`{permission.value}`) | " + " | ".join(ticks) + " |")
    lines += ["", "## What each role is for", ""]
    lines += [f"- **{rights.role.label}**: {rights.why}" for rights in RIGHTS.values()]
    lines += ["", "## Every address", "", "| address | name | asks for | opens for |", "| --- | --- | --- | --- |"]
    for door in doors():
        roles = "everybody" if door.needed == ANYONE else ", ".join(role.label.lower() for role in door.roles)
        roles = "every account" if door.needed == ANY_ACCOUNT else roles
        lines.append(f"| `{door.path}` | {door.route} | {door.needed} | {roles} |")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "sideport.app.settings")
    import django

    django.setup()
    Path(sys.argv[1]).write_text(access_page(), encoding="utf-8")
