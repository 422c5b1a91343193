"""``serve``: loads the folder, shows it on the loopback address, ends on interrupt, and refuses in plain words."""

import os
import re
import signal
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from sample_plan import sample_plan
from sideport.app.demo_marker import mark_demo
from sideport.app.serve import ServeError, parse_address, refuse_taken, serve
from sideport.exchange.plan_file import write_plan

START = (
    "import sys; from pathlib import Path; from sideport.app.serve import serve; serve(Path(sys.argv[1]), sys.argv[2])"
)


def free_port() -> int:
    """A port that nobody holds now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.mark.parametrize(
    ("written", "parsed"),
    [("127.0.0.1:8477", ("127.0.0.1", 8477)), ("localhost:80", ("127.0.0.1", 80)), ("[::1]:9000", ("::1", 9000))],
)
def test_a_loopback_address_is_read(written: str, parsed: tuple[str, int]) -> None:
    assert parse_address(written) == parsed


@pytest.mark.parametrize("written", ["", "8477", "127.0.0.1", "127.0.0.1:", "127.0.0.1:0", "127.0.0.1:70000", "x:1"])
def test_what_is_no_address_is_refused(written: str) -> None:
    with pytest.raises(ServeError):
        parse_address(written)


@pytest.mark.parametrize("written", ["0.0.0.0:8477", "192.168.1.5:8477", "[::]:8477"])
def test_an_address_that_others_can_reach_is_refused(written: str) -> None:
    with pytest.raises(ServeError, match="needs HTTPS"):
        parse_address(written)


def test_a_taken_port_is_said_before_starting() -> None:
    with socket.socket() as holder:
        holder.bind(("127.0.0.1", 0))
        holder.listen()
        with pytest.raises(ServeError, match="choose another port"):
            refuse_taken("127.0.0.1", holder.getsockname()[1])


def test_a_folder_without_a_plan_says_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(ServeError, match="sideport plan FOLDER"):
        serve(tmp_path, f"127.0.0.1:{free_port()}")


@contextmanager
def served(folder: Path) -> "Iterator[tuple[str, subprocess.Popen[str]]]":
    """A folder served by a process of its own, and the address."""
    port = free_port()
    quiet = {key: value for key, value in os.environ.items() if not key.startswith(("SIDEPORT", "DJANGO"))}
    process = subprocess.Popen(
        [sys.executable, "-c", START, str(folder), f"127.0.0.1:{port}"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=quiet,
    )  # fmt: skip
    try:
        yield f"http://127.0.0.1:{port}", process
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGINT)
            process.communicate(timeout=20)


def test_the_invented_unit_is_served_until_interrupted_and_one_click_walks_in(tmp_path: Path) -> None:
    write_plan(sample_plan(), tmp_path / "plan.json")
    (tmp_path / "day.pdf").write_bytes(b"%PDF-1.7 as printed")
    mark_demo(tmp_path)
    with served(tmp_path) as (site, process):
        browser = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
        page = wait_for(f"{site}/", process, browser).decode()
        assert "Walk in as lead surgeon" in page
        assert "Tansy" not in page
        token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page)
        assert token is not None
        form = urllib.parse.urlencode({"csrfmiddlewaretoken": token[1], "role": "lead-surgeon"}).encode()
        with browser.open(f"{site}/sign-in/demo/", form, timeout=10) as answer:
            assert b"Quill Island Eye Unit" in answer.read()
        assert wait_for(f"{site}/plans/1/day.pdf", process, browser) == b"%PDF-1.7 as printed"
        assert b"--paper" in wait_for(f"{site}/static/sideport/site.css", process, browser)
        font = "/static/fonts/devanagari/NotoSansDevanagari%5Bwdth,wght%5D.ttf"
        assert len(wait_for(f"{site}{font}", process, browser)) > 10_000
        process.send_signal(signal.SIGINT)
        said, complained = process.communicate(timeout=20)
    assert f"Open {site}/" in said
    assert "Ctrl+C" in said
    assert "code" not in said
    assert complained == ""
    assert process.returncode == 0
    with sqlite3.connect(tmp_path / "sideport.sqlite3") as database:
        assert database.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        assert database.execute("SELECT count(*) FROM planning_storedplan").fetchone() == (1,)
    database.close()


def test_a_real_folder_prints_a_code_that_opens_the_first_page_and_offers_no_walking_in(tmp_path: Path) -> None:
    write_plan(sample_plan(), tmp_path / "plan.json")
    with served(tmp_path) as (site, process):
        browser = urllib.request.build_opener()
        page = wait_for(f"{site}/plans/1/", process, browser).decode()
        assert "Walk in" not in page
        assert "Tansy" not in page
        assert b"Make the administrator" in wait_for(f"{site}/first/", process, browser)
        process.send_signal(signal.SIGINT)
        said, complained = process.communicate(timeout=20)
    code = re.search(r"type this code within an hour: ([2-9A-Z]{4}-[2-9A-Z]{4}-[2-9A-Z]{4})", said)
    assert code is not None
    assert complained == ""
    with sqlite3.connect(tmp_path / "sideport.sqlite3") as database:
        assert code[1].encode() not in "".join(database.iterdump()).encode()
    database.close()


def wait_for(address: str, process: "subprocess.Popen[str]", browser: urllib.request.OpenerDirector) -> bytes:
    """The answer of the site, once it is up."""
    for _ in range(200):
        assert process.poll() is None, process.communicate()
        try:
            with browser.open(address, timeout=5) as answer:
                return bytes(answer.read())
        except urllib.error.HTTPError as error:
            error.close()
            raise
        except urllib.error.URLError:
            time.sleep(0.1)
    raise AssertionError("the site did not come up")
