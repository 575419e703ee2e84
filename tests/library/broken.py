"""Broken files, each laid into a library without a fault; what must be told stands in them.

A fixture is one file, or a folder with several. It says in comments `expect LINE CODE` what
the linter must tell of that file: all of it and nothing else. The library and the fixtures
are invented; the rules are those of the format of articles and trees.
"""

from __future__ import annotations

import re
import shutil
from datetime import date
from typing import TYPE_CHECKING

from kb.library import store
from kb.triage.check import check_all

if TYPE_CHECKING:
    from pathlib import Path

TODAY = date(2026, 12, 1)
_EXPECT = re.compile(r"expect (\d+) (LB\d{3})")
Told = list[tuple[str, int, str]]


def lay(fixture: Path, good: Path, room: str, into: Path) -> tuple[Path, Told]:
    """Make a library of the good one and the fixture; what its files say must be told."""
    library = into / "library"
    shutil.copytree(good, library)
    if fixture.is_dir():
        shutil.copytree(fixture, library, dirs_exist_ok=True)
        names = [path.relative_to(fixture) for path in fixture.rglob("*") if path.is_file()]
    else:
        shutil.copy(fixture, library / room)
        names = [(library / room / fixture.name).relative_to(library)]
    expected: Told = []
    for name in names:
        text = (library / name).read_text(encoding="latin-1")
        expected += [(str(name), int(line), code) for line, code in _EXPECT.findall(text)]
    return library, sorted(expected)


def told(folder: Path) -> Told:
    """What the linter tells of a library, as (file, line, code)."""
    library, problems = store.load(folder)
    problems += check_all(library, TODAY)
    return sorted(
        (one.where.removeprefix(f"{folder.as_posix()}/"), one.line, one.code) for one in problems
    )
