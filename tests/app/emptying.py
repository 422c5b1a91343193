"""Lets the tests empty their own database between them, which the journal's triggers would rightly refuse."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib import import_module
from typing import Any

import pytest
from django.db.backends.postgresql.base import DatabaseWrapper as Postgresql
from django.db.backends.sqlite3.base import DatabaseWrapper as Sqlite

__all__ = ["journal_may_be_emptied"]

GUARD = import_module("sideport.app.record.migrations.0002_nothing_is_overwritten")
AROUND: dict[type[Any], tuple[list[str], list[str]]] = {
    Sqlite.ops_class: (
        ["DROP TRIGGER record_no_delete"],
        [statement for statement in GUARD.SQLITE if "record_no_delete" in statement],
    ),
    Postgresql.ops_class: (
        [f"ALTER TABLE {GUARD.TABLE} DISABLE TRIGGER USER"],
        [f"ALTER TABLE {GUARD.TABLE} ENABLE TRIGGER USER"],
    ),
}


@contextmanager
def journal_may_be_emptied() -> Iterator[None]:
    """Inside, emptying the whole database takes the triggers away and puts them back."""
    with pytest.MonkeyPatch.context() as patch:
        for operations, (before, after) in AROUND.items():
            patch.setattr(operations, "sql_flush", between(operations.sql_flush, before, after))
        yield


def between(real: Callable[..., list[str]], before: list[str], after: list[str]) -> Callable[..., list[str]]:
    """The statements of the real method with others around them."""

    def sql_flush(*arguments: Any, **named: Any) -> list[str]:
        statements = real(*arguments, **named)
        return [*before, *statements, *after] if statements else []

    return sql_flush
