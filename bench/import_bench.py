"""A register of 100,000 rows."""

import tempfile
from datetime import date, timedelta
from pathlib import Path

from bench.timing import best_of
from sideport.exchange import read_folder

__all__ = ["run"]


def run() -> None:
    """Prints the seconds it takes to read."""
    rows = 100_000
    with tempfile.TemporaryDirectory() as folder:
        start = date(2026, 12, 1)
        lines = ["patient id,name,age,sex,eye,AL (mm),K1 (D),K2 (D)"]
        lines += [
            f"P{number},Person {number},{50 + number % 40},F,{'RL'[number % 2]},23.{number % 100:02},44.0,44.5"
            for number in range(rows)
        ]
        Path(folder, "register.csv").write_text("\n".join(lines), encoding="utf-8")
        Path(folder, "day.csv").write_text(
            f"setting,value\nunit,Bench\nday,{start + timedelta(days=1)}\n", encoding="utf-8"
        )
        seconds = best_of(1, lambda: read_folder(Path(folder)))
    print(f"register of {rows:,} rows   {seconds:8.2f} s")
