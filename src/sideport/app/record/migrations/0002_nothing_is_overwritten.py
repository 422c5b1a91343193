"""The database itself refuses to change or remove an entry of the journal."""

from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

TABLE = "record_journalentry"
WORDS = "an entry of the journal is never changed or removed; write a correction"

SQLITE = [
    f"CREATE TRIGGER record_no_{what.lower()} BEFORE {what} ON {TABLE} BEGIN SELECT RAISE(ABORT, '{WORDS}'); END"
    for what in ("UPDATE", "DELETE")
]
# INSERT OR REPLACE removes the row in its way without asking the trigger above.
SQLITE.append(
    f"CREATE TRIGGER record_no_replace BEFORE INSERT ON {TABLE} WHEN EXISTS (SELECT 1 FROM {TABLE} WHERE "  # noqa: S608
    "entry_id = NEW.entry_id OR stamp = NEW.stamp OR digest = NEW.digest OR "
    f"(device = NEW.device AND sequence = NEW.sequence)) BEGIN SELECT RAISE(ABORT, '{WORDS}'); END"
)
POSTGRESQL = [
    "CREATE FUNCTION record_refuse() RETURNS trigger LANGUAGE plpgsql AS "
    f"$$ BEGIN RAISE EXCEPTION '{WORDS}' USING ERRCODE = 'integrity_constraint_violation'; END $$",
    f"CREATE TRIGGER record_no_change BEFORE UPDATE OR DELETE ON {TABLE} FOR EACH ROW EXECUTE FUNCTION record_refuse()",
    f"CREATE TRIGGER record_no_truncate BEFORE TRUNCATE ON {TABLE} FOR EACH STATEMENT EXECUTE FUNCTION record_refuse()",
]
STATEMENTS = {"sqlite": SQLITE, "postgresql": POSTGRESQL}
UNDONE = {
    "sqlite": ["DROP TRIGGER record_no_update", "DROP TRIGGER record_no_delete", "DROP TRIGGER record_no_replace"],
    "postgresql": [
        f"DROP TRIGGER record_no_change ON {TABLE}",
        f"DROP TRIGGER record_no_truncate ON {TABLE}",
        "DROP FUNCTION record_refuse()",
    ],
}


def guard(_apps: object, schema_editor: BaseDatabaseSchemaEditor) -> None:
    for statement in STATEMENTS[schema_editor.connection.vendor]:
        schema_editor.execute(statement)


def unguard(_apps: object, schema_editor: BaseDatabaseSchemaEditor) -> None:
    for statement in UNDONE[schema_editor.connection.vendor]:
        schema_editor.execute(statement)


class Migration(migrations.Migration):
    dependencies = [("record", "0001_initial")]

    operations = [migrations.RunPython(guard, unguard)]
