"""A writer that is killed loses nothing that it had acknowledged; ``bench/journal_bench.py`` does it 200 times."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that forks")
def test_killed_writers_lose_nothing() -> None:
    quiet = {key: value for key, value in os.environ.items() if not key.startswith(("SIDEPORT", "DJANGO"))}
    done = subprocess.run(
        [sys.executable, "-m", "bench.journal_bench", "--kills", "6", "--seed", "3"],
        cwd=ROOT, env=quiet, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    counts = [int(count) for count in re.findall(r"(\d+) (?:kills|entries|in the|lost)", done.stdout)]
    kills, acknowledged, entries, lost = counts
    assert (kills, lost) == (6, 0)
    assert entries >= acknowledged >= kills
