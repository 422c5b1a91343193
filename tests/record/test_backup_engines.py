"""A backup of either database restores into the other."""

import os
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit
from uuid import uuid4

import pytest

from sideport.exchange.backup import key_text

from .backups import ADDRESS, SECRET, UNIT_OF, python, sideport

SERVER = os.environ.get("SIDEPORT_DATABASE_URL", "")
pytestmark = pytest.mark.skipif(not SERVER, reason="needs a PostgreSQL server")
SUMS = """
import django
django.setup()
from sideport.app.record.backups import kept_models, table_sums
from sideport.app.record.models import Device, JournalEntry
from sideport.app.record.project import PROJECTED
kept = [model for model in kept_models() if model is not Device]
print(sorted(table_sums("default", [*kept, *PROJECTED, JournalEntry]).items()))
"""
ONE_MORE = """
import django
django.setup()
from datetime import UTC, datetime
from sideport.app.people.roles import Role
from sideport.app.people.services import NewPerson, make_account
print(make_account(person=NewPerson("odo", "Odo Finch", Role.NURSE, "Quill Island Eye Unit"), password=None, actor=None,
                   now=datetime.now(UTC)).pk)
"""


@pytest.fixture
def urls() -> Iterator[list[str]]:
    """Addresses of two empty databases."""
    import psycopg

    names = [f"backup_{uuid4().hex[:8]}" for _ in range(2)]
    with psycopg.connect(SERVER, autocommit=True) as server:
        for name in names:
            server.execute(f'CREATE DATABASE "{name}"')
        yield [urlunsplit(urlsplit(SERVER)._replace(path=f"/{name}")) for name in names]
        for name in names:
            server.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


def test_postgresql_to_sqlite_to_postgresql_is_the_same(urls: list[str], tmp_path: Path) -> None:
    key = tmp_path / "key"
    key.write_bytes(key_text(secret=SECRET, passphrase=""))
    first, second = tmp_path / "first", tmp_path / "second"
    first.mkdir()
    done = python(UNIT_OF, first, urls[0])
    assert done.returncode == 0, done.stderr
    before = python(SUMS, first, urls[0]).stdout
    assert "planning.storedsheet" in before
    sideport("backup", first, "--to", tmp_path / "a", "--for", ADDRESS, url=urls[0])
    sideport("restore", tmp_path / "a", "--to", second, "--key", key)
    assert python(SUMS, second).stdout == before
    sideport("backup", second, "--to", tmp_path / "b", "--for", ADDRESS)
    sideport("restore", tmp_path / "b", "--to", tmp_path / "third", "--key", key, url=urls[1])
    assert python(SUMS, tmp_path / "third", urls[1]).stdout == before
    assert int(python(ONE_MORE, tmp_path / "third", urls[1]).stdout) == 2
    said = sideport("restore", tmp_path / "b", "--to", tmp_path / "fourth", "--key", key, url=urls[1], code=2)
    assert "holds something already" in said
    assert not (tmp_path / "fourth").exists()
