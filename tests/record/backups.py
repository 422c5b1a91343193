"""A small unit in a data folder, and the commands that back it up, each in a process of its own."""

import os
import subprocess
import sys
from pathlib import Path

from sideport.exchange.backup import new_key

__all__ = ["ADDRESS", "AGAIN", "APPEND", "COMMAND", "QUIET", "SECRET", "UNIT_OF", "python", "sideport"]

COMMAND = "from sideport.cli import main; main()"
QUIET = {name: value for name, value in os.environ.items() if not name.startswith(("SIDEPORT", "DJANGO"))}
SECRET, ADDRESS = new_key()
UNIT_OF = """
import sys
from datetime import UTC, datetime
import django
django.setup()
from django.core.management import call_command
call_command("migrate", verbosity=0)
from sideport.app.people.roles import Role
from sideport.app.people.services import NewPerson, make_account
from sideport.app.planning.models import SheetKind
from sideport.app.record.planned import record_plan
from sideport.app.record.services import append
from sideport.exchange.plan_file import plan_to_json
from sideport.eye.measurement import Measurement, Quantity
from sideport.eye.person import Person
from sideport.optics.side import Side
from sideport.record.kinds import Kind
from sample_plan import sample_plan
now = datetime(2031, 3, 4, 8, 0, tzinfo=UTC)
unit = "Quill Island Eye Unit"
for number in range(30):
    name, subject = f"রুক্মিণী {number}", f"person/{number}"
    said = Person(str(number), name, ())
    append(kind=Kind.PERSON_REGISTERED, subject=subject, payload=said, actor="A", now=now, unit=unit)
    said = Measurement(Side.LEFT, Quantity.AXIAL_LENGTH, 23.1 + number / 100)
    append(kind=Kind.MEASUREMENT_TAKEN, subject=subject, payload=said, actor="A", now=now, unit=unit)
record_plan(document=plan_to_json(sample_plan()), actor="A", now=now, sheets={SheetKind.DAY: b"%PDF \\xff invented"})
ivo = NewPerson("ivo", "Ivo Marsh", Role.ADMINISTRATOR, unit)
make_account(person=ivo, password="seven boats before dawn", actor=None, now=now)
"""
APPEND = """
import django
django.setup()
from datetime import UTC, datetime
from sideport.app.record.services import append
from sideport.eye.person import Person
from sideport.record.kinds import Kind
number = 100
try:
    while number < 5000:
        said = Person(str(number), "Nobody " * 40, ())
        now, subject = datetime.now(UTC), f"person/{number}"
        entry = append(kind=Kind.PERSON_REGISTERED, subject=subject, payload=said, actor="A", now=now)
        print(entry.entry_id, flush=True)
        number += 1
except Exception as error:
    print("full", type(error).__name__, flush=True)
"""
AGAIN = """
import django
django.setup()
from sideport.app.record.services import verify_journal
from sideport.app.people.models import Account
verify_journal()
print(Account.objects.get(username="ivo").check_password("seven boats before dawn"))
"""


def python(code: str, data: Path, url: str = "", **more: object) -> "subprocess.CompletedProcess[str]":
    """Runs code of the project on a data folder."""
    paths = os.pathsep.join(path for path in sys.path if path)
    env = QUIET | {"SIDEPORT_DATA": str(data), "DJANGO_SETTINGS_MODULE": "sideport.app.settings", "PYTHONPATH": paths}
    env |= {"SIDEPORT_DATABASE_URL": url} if url else {}
    return subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True, check=False, **more)  # type: ignore[call-overload,no-any-return]


def sideport(*arguments: object, code: int = 0, url: str = "", **more: object) -> str:
    """Types a command; gives what was said."""
    env = QUIET | ({"SIDEPORT_DATABASE_URL": url} if url else {})
    command = [sys.executable, "-c", COMMAND, *map(str, arguments)]
    done = subprocess.run(command, env=env, capture_output=True, text=True, check=False, **more)  # type: ignore[call-overload]
    assert done.returncode == code, done.stdout + done.stderr
    assert "Traceback" not in done.stderr
    return str(done.stdout + done.stderr)
