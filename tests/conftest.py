"""What tests of several rooms share: a real browser, and a loud word when there is none."""

import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings

if TYPE_CHECKING:
    from playwright.sync_api import Browser

# The browser's client runs an event loop in the test's own thread, where Django would otherwise refuse its database.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")

# A slow machine is not a wrong answer: how long a part takes is the benches' business.
settings.register_profile("house", deadline=None)
settings.load_profile("house")

CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome")
CHROMIUM_FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]
HELP = "Chromium was not found; install it (Debian: apt-get install chromium) to run the browser tests."
without_browser: list[str] = []


def find_chromium() -> Path | None:
    """The browser on this machine, if any."""
    return next((Path(found) for name in CHROMIUM_NAMES if (found := shutil.which(name))), None)


@pytest.fixture(scope="session")
def chromium() -> "Iterator[Browser]":
    """A headless Chromium; without one the test fails in CI and is skipped loudly elsewhere."""
    path = find_chromium()
    if path is None:
        if os.environ.get("CI", "").lower() == "true":
            pytest.fail(HELP)
        without_browser.append(HELP)
        pytest.skip(HELP)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as player:
        browser = player.chromium.launch(executable_path=path, args=CHROMIUM_FLAGS)
        yield browser
        browser.close()


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say at the very end what could not run, where nobody overlooks it."""
    skipped = [report for report in terminalreporter.stats.get("skipped", []) if HELP in str(report.longrepr)]
    if skipped or without_browser:
        terminalreporter.section("NOT RUN", red=True)
        terminalreporter.write_line(f"{len(skipped)} browser tests did not run. {HELP}")
