"""How long the pages take with a full register and many people at once.

200,000 invented patients with 1,000,000 entries in the journal; 50 people who look at a page, think, and look at the
next, served as the site is served. Run with ``python -m bench.pages_bench``; with ``SIDEPORT_DATABASE_URL`` it fills
and measures that (empty) PostgreSQL database. Ends with 1 when a page's median is above the bound.
"""

import argparse
import os
import random
import re
import socket
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import urllib.error
import urllib.request
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from .register_of import UNIT, multiply, write_register

ORIGINALS = 1000
BOUND_MS = 150.0
READS = 100_000
THINK_S = (2.0, 6.0)
PASSWORD = "seven boats before dawn"
SERVER = "import sys; from sideport.app.serve import run; run('127.0.0.1', int(sys.argv[1]))"


@dataclass(frozen=True, slots=True)
class Size:
    """How much is measured."""

    patients: int = 200_000
    users: int = 50
    seconds: float = 60.0


def set_up(folder: Path) -> None:
    """Points the project at a data folder."""
    os.environ["SIDEPORT_DATA"] = str(folder)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "sideport.app.settings")
    import django
    from django.core.management import call_command

    django.setup()
    call_command("migrate", verbosity=0)


def fill(patients: int) -> None:
    """Fills the database: some patients as the program writes them, the others copied in the tables."""
    from sideport.app.record.models import JournalEntry, Person

    today = datetime.now(UTC).date()
    begun = time.perf_counter()
    write_register(patients=min(ORIGINALS, patients), today=today)
    multiply(max(1, patients // ORIGINALS))
    add_unit()
    print(f"{Person.objects.count()} patients, {JournalEntry.objects.count()} entries, "
          f"made in {time.perf_counter() - begun:.0f} s")  # fmt: skip


def add_unit() -> None:
    """A day of 60 eyes with its shelf and its plan, and a log of reads as a year leaves it."""
    from sideport.app.people.models import ReadLog
    from sideport.app.record.folder_in import import_request
    from sideport.app.record.planned import record_plan
    from sideport.day import plan_day
    from sideport.exchange.plan_file import plan_to_json
    from sideport.knowledge import load_published

    from .big_day import big_day

    now = datetime.now(UTC)
    request = big_day(eyes=60, boxes=400)
    request = replace(request, settings=replace(request.settings, unit=UNIT))
    import_request(request=request, actor="bench", now=now)
    plan = plan_day(request, load_published(), seed=0, inputs_sha256="bench")
    record_plan(document=plan_to_json(plan), actor="bench", now=now)
    reader = account("lead-surgeon")
    generator = random.Random(2)
    looks = (
        ReadLog(account=reader, unit=UNIT, at=now - timedelta(minutes=5 * number), kind="patient",
                subject=f"Q{generator.randrange(ORIGINALS)}", view="patient")
        for number in range(READS)
    )  # fmt: skip
    ReadLog.objects.bulk_create(looks, batch_size=2000)


def account(role: str) -> Any:
    """Somebody of a role, made when first asked for."""
    from sideport.app.people.models import Account
    from sideport.app.people.roles import Role
    from sideport.app.people.services import NewPerson, make_account

    found = Account.objects.filter(username=role).first()
    now = datetime.now(UTC)
    return found or make_account(
        person=NewPerson(role, "Wren Hollis", Role(role), UNIT), password=None, actor=None, now=now
    )


def session_of(role: str) -> str:
    """The cookie of somebody who has signed in."""
    from importlib import import_module

    from django.conf import settings
    from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
    from django_otp import DEVICE_ID_SESSION_KEY
    from django_otp.plugins.otp_static.models import StaticDevice

    from sideport.app.people.gate import SEEN

    who = account(role)
    session = import_module(settings.SESSION_ENGINE).SessionStore()
    device, _ = StaticDevice.objects.get_or_create(user=who, confirmed=True, defaults={"name": "bench"})
    session.update({SEEN: time.time(), SESSION_KEY: str(who.pk), HASH_SESSION_KEY: who.get_session_auth_hash(),
                    BACKEND_SESSION_KEY: "django.contrib.auth.backends.ModelBackend",
                    DEVICE_ID_SESSION_KEY: device.persistent_id})  # fmt: skip
    session.save()
    return f"{settings.SESSION_COOKIE_NAME}={session.session_key}"


def pages() -> dict[str, tuple[str, Callable[[random.Random], str]]]:
    """The pages that are measured: who asks, and an address for each look."""
    from sideport.app.planning.models import StoredPlan
    from sideport.app.record.models import Operation, Person
    from sideport.record.subject import root_of

    people = [root_of(UNIT, f"person/Q{number}") for number in range(ORIGINALS)]
    people = list(Person.objects.filter(pk__in=people).values_list("pk", "eyes__side"))
    operations = list(Operation.objects.order_by("-day").values_list("pk", flat=True)[:200])
    plan = StoredPlan.objects.order_by("-pk").values_list("pk", flat=True)[0]

    def patient(generator: random.Random) -> str:
        return f"/patients/{generator.choice(people)[0]}/"

    def story(generator: random.Random) -> str:
        key, side = generator.choice(people)
        return f"/patients/{key}/{side}/"

    def one(address: str) -> Callable[[random.Random], str]:
        return lambda _: address

    def search(*words: str) -> Callable[[random.Random], str]:
        return lambda generator: f"/patients/?q={urllib.request.quote(generator.choice(words))}"

    lead = "lead-surgeon"
    return {
        "home, lead surgeon": (lead, one("/")),
        "home, nurse": ("nurse", one("/")),
        "home, auditor": ("auditor", one("/")),
        "home, administrator": ("administrator", one("/")),
        "patients": (lead, one("/patients/")),
        "search, name": (lead, search("tansy moor", "শিউলি", "घाट", "hollis")),
        "search, nobody": (lead, search("zebedee", "nobody here")),
        "search, number": (lead, search("Q17", "Q512-9", "Q999")),
        "search, telephone": (lead, search("01554711", "01559022", "015512345")),
        "patient": (lead, patient),
        "story of an eye": (lead, story),
        "history": (lead, lambda generator: patient(generator) + "history/"),
        "days": (lead, one("/days/")),
        "tasks": (lead, one("/tasks/")),
        "plans": (lead, one("/plans/")),
        "day": (lead, one(f"/plans/{plan}/")),
        "shelf": (lead, one(f"/plans/{plan}/shelf/")),
        "theatre": ("nurse", one(f"/theatre/{plan}/")),
        "follow-up": (lead, one("/follow-up/")),
        "follow-up of an eye": (lead, lambda generator: f"/follow-up/{generator.choice(operations)}/"),
        "reads": ("auditor", one("/people/reads/")),
        "people": ("administrator", one("/people/")),
    }


def measure(size: Size) -> dict[str, list[float]]:
    """Lets so many people look at pages; gives the times by page [ms]."""
    from django.db import connections

    asked = pages()
    cookies = {role: session_of(role) for role, _ in asked.values()}
    connections.close_all()
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    server = subprocess.Popen([sys.executable, "-c", SERVER, str(port)])
    taken: defaultdict[str, list[float]] = defaultdict(list)
    site = f"http://127.0.0.1:{port}"
    try:
        wait_for(site)
        for name, (role, address) in asked.items():
            look(site + address(random.Random(0)), cookies[role], name)
        until = time.monotonic() + size.seconds

        def person(number: int) -> None:
            generator = random.Random(number)
            time.sleep(generator.uniform(0.0, THINK_S[1]))
            while time.monotonic() < until:
                name = generator.choice(list(asked))
                role, address = asked[name]
                taken[name].append(look(site + address(generator), cookies[role], name))
                time.sleep(generator.uniform(*THINK_S))

        threads = [threading.Thread(target=person, args=(number,)) for number in range(size.users)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    finally:
        server.terminate()
        server.wait(20)
    return taken


def wait_for(site: str) -> None:
    """Waits until the site answers."""
    for _ in range(300):
        try:
            urllib.request.urlopen(f"{site}/sign-in/", timeout=5).close()
        except (urllib.error.URLError, ConnectionError):
            time.sleep(0.2)
        else:
            return
    raise RuntimeError("The site did not come up.")


def look(address: str, cookie: str, name: str) -> float:
    """Looks at a page; gives the time from asking to its last byte [ms]."""
    request = urllib.request.Request(address, headers={"Cookie": cookie})
    begun = time.perf_counter()
    with urllib.request.urlopen(request, timeout=120) as answer:
        body = answer.read()
        spent = (time.perf_counter() - begun) * 1000
        if "/sign-in/" in answer.url or not re.search(rb"<h1", body):
            raise RuntimeError(f"{name}: this is not the page: {answer.url}")
    return spent


def run(size: Size | None = None, folder: Path | None = None) -> bool:
    """Fills a database, measures, prints a table; true when every page's median is within the bound."""
    chosen = size or Size()
    with tempfile.TemporaryDirectory() as scratch:
        place = folder or Path(scratch)
        fresh = not (place / "secret.key").exists()
        set_up(place)
        if fresh:
            fill(chosen.patients)
        taken = measure(chosen)
    from django.db import connection

    print(
        f"{connection.vendor}, {chosen.users} people, {sum(map(len, taken.values()))} looks in {chosen.seconds:.0f} s"
    )
    for name, times in sorted(taken.items(), key=lambda each: -statistics.median(each[1])):
        high = sorted(times)[int(0.95 * (len(times) - 1))]
        print(
            f"{name:24} {len(times):5} looks, median {statistics.median(times):7.0f} ms, 95 in 100 below {high:7.0f} ms"
        )
    return all(statistics.median(times) < BOUND_MS for times in taken.values())


def main() -> None:
    """Reads the options."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--patients", type=int, default=Size().patients)
    parser.add_argument("--users", type=int, default=Size().users)
    parser.add_argument("--seconds", type=float, default=Size().seconds)
    parser.add_argument("--folder", type=Path, help="Keep the database here; a filled one is measured again.")
    options = parser.parse_args()
    if options.folder is not None:
        options.folder.mkdir(parents=True, exist_ok=True)
    sys.exit(0 if run(Size(options.patients, options.users, options.seconds), options.folder) else 1)


if __name__ == "__main__":
    main()
