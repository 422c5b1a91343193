"""SQLite as Django drives it, with tables that refuse a value of the wrong type (STRICT, SQLite 3.37 or newer)."""

from collections.abc import Callable

from django.db.backends.sqlite3 import base, schema

__all__ = ["DatabaseWrapper", "strict_type"]

PARTS = (("int", "integer"), ("bool", "integer"), ("real", "real"), ("blob", "blob"))


def strict_type(declared: str | Callable[..., str]) -> str:
    """The type of a strict table for a column that Django declares so; a callable declares text of some length."""
    plain = "text" if callable(declared) else declared.casefold()
    return next((strict for part, strict in PARTS if part in plain), "text")


class SchemaEditor(schema.DatabaseSchemaEditor):
    """Makes every table strict, those too that a migration makes anew to change them."""

    sql_create_table = schema.DatabaseSchemaEditor.sql_create_table + " STRICT"


class DatabaseWrapper(base.DatabaseWrapper):
    """The connection."""

    SchemaEditorClass = SchemaEditor
    data_types = {  # noqa: RUF012
        field: strict_type(declared) for field, declared in base.DatabaseWrapper.data_types.items()
    }
