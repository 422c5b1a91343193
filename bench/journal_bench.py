"""Kills a writer again and again, and counts the acknowledged entries that the journal lost.

A child process appends entries as fast as it can and says each one's number once ``append`` has returned. The parent
ends it with SIGKILL at a random moment; at the end every acknowledged entry is looked for.
Run with ``python -m bench.journal_bench``.
"""

import argparse
import os
import random
import signal
import sys
import tempfile
import time
from pathlib import Path


def set_up(folder: Path) -> None:
    """Points the project at a fresh data folder."""
    os.environ["SIDEPORT_DATA"] = str(folder)
    os.environ.pop("SIDEPORT_DATABASE_URL", None)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "sideport.app.settings")
    import django
    from django.core.management import call_command

    django.setup()
    call_command("migrate", verbosity=0)


def write_forever(pipe: int, number: int) -> None:
    """The child: appends and acknowledges until it is killed."""
    from datetime import UTC, datetime

    from sideport.app.record.services import append
    from sideport.eye.measurement import Measurement, Quantity
    from sideport.eye.person import Person
    from sideport.optics.side import Side
    from sideport.record.kinds import Kind

    subject = f"person/bench {number}"
    kind, said = Kind.PERSON_REGISTERED, Person(f"bench {number}", "Nobody", ())
    while True:
        entry = append(kind=kind, subject=subject, payload=said, actor="bench", now=datetime.now(UTC), unit="Bench")
        os.write(pipe, f"{entry.entry_id}\n".encode())
        kind, said = Kind.MEASUREMENT_TAKEN, Measurement(Side.LEFT, Quantity.AXIAL_LENGTH, random.uniform(20, 28))


def kill_once(number: int, seconds: float) -> list[str]:
    """Starts a writer, kills it in the middle, returns what it had acknowledged."""
    from django.db import connections

    connections.close_all()
    readable, writable = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(readable)
        try:
            write_forever(writable, number)
        finally:
            os._exit(1)
    os.close(writable)
    with os.fdopen(readable, "rb") as pipe:
        first = pipe.readline()
        time.sleep(seconds)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        acknowledged = first + pipe.read()
    # A line that was cut off was not acknowledged.
    return [line.decode() for line in acknowledged.split(b"\n")[:-1]]


def run(kills: int, folder: Path, seed: int) -> bool:
    """Kills so often; prints the count; true when nothing was lost."""
    set_up(folder)
    from sideport.app.record.models import JournalEntry
    from sideport.app.record.services import rebuild, verify_journal

    generator = random.Random(seed)
    acknowledged: set[str] = set()
    for number in range(kills):
        acknowledged.update(kill_once(number, generator.uniform(0.0, 0.2)))
    there = set(JournalEntry.objects.values_list("entry_id", flat=True))
    entries = verify_journal()
    rebuild()
    lost = len(acknowledged - there)
    print(
        f"{kills} kills, {len(acknowledged)} entries acknowledged, {entries} in the journal, {lost} lost, chain intact"
    )
    return lost == 0 and len(acknowledged) >= kills


def main() -> None:
    """Reads the options."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        sys.exit(0 if run(options.kills, Path(folder), options.seed) else 1)


if __name__ == "__main__":
    main()
