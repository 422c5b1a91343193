"""Several laptops in one test: each has its own data folder, keys and database, and is gone to with ``with``."""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import uuid4

from django.core.management import call_command
from django.db import connection
from django.test import override_settings

from sideport.app.record.models import JournalEntry, Mention
from sideport.app.record.project import PROJECTED

__all__ = ["Laptop", "Laptops", "dump"]

NOW = datetime(2031, 3, 4, 8, 0, tzinfo=UTC)


@contextmanager
def database(name: str) -> Iterator[None]:
    """Everything inside goes to another database of the same kind."""
    before, open_before = connection.settings_dict["NAME"], connection.connection
    connection.connection = None
    connection.settings_dict["NAME"] = name
    try:
        yield
    finally:
        connection.close()
        connection.settings_dict["NAME"], connection.connection = before, open_before


class Laptop:
    """One device."""

    def __init__(self, folder: Path, name: str, ahead: timedelta = timedelta(0)) -> None:
        self.folder, self.name, self.ahead, self.count = folder, name, ahead, 0
        folder.mkdir(parents=True, exist_ok=True)

    @contextmanager
    def here(self) -> Iterator[None]:
        """Work on this laptop."""
        with database(self.name), override_settings(DATA=self.folder):
            yield

    @property
    def now(self) -> datetime:
        """Its clock, a second later each time."""
        self.count += 1
        return NOW + self.ahead + timedelta(seconds=self.count)


class Laptops:
    """Makes laptops with empty databases, quickly: copies of one that was migrated once."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.names = folder, list[str]()
        self.template = f"template_{uuid4().hex[:8]}" if self.server else str(folder / "template.sqlite3")
        if self.server:
            self.run(f'CREATE DATABASE "{self.template}"')
            self.names.append(self.template)
        with database(self.template):
            call_command("migrate", verbosity=0)

    @property
    def server(self) -> bool:
        """Whether the databases live on a server."""
        return connection.vendor == "postgresql"

    def run(self, statement: str) -> None:
        """Runs a statement about databases, outside of any of them."""
        with database("postgres"), connection.cursor() as cursor:
            cursor.execute(statement)

    def new(self, ahead: timedelta = timedelta(0)) -> Laptop:
        """A new laptop with an empty journal."""
        mark = uuid4().hex[:8]
        folder = self.folder / mark
        folder.mkdir()
        if self.server:
            self.run(f'CREATE DATABASE "laptop_{mark}" TEMPLATE "{self.template}"')
            self.names.append(f"laptop_{mark}")
            return Laptop(folder, f"laptop_{mark}", ahead)
        shutil.copyfile(self.template, folder / "sideport.sqlite3")
        return Laptop(folder, str(folder / "sideport.sqlite3"), ahead)

    def close(self) -> None:
        """Throws the databases away."""
        for name in self.names if self.server else []:
            self.run(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')


def dump() -> bytes:
    """Every row of every table that is made from the journal, and the journal, by their keys."""
    rows: list[Any] = []
    for model in (*PROJECTED, Mention, JournalEntry):
        columns = [field.attname for field in model._meta.concrete_fields]
        found = sorted(model._default_manager.values_list(*columns), key=lambda row: (str(row[0]), str(row[1])))
        rows += [(model.__name__, *row) for row in found]
    return "\n".join(map(repr, rows)).encode()
