"""What holds for the whole checkout: lint, format, types, the direction of imports, the library."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
pytestmark = pytest.mark.gate


def run(*command: str) -> str:
    done = subprocess.run(
        [sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_lint() -> None:
    run("ruff", "check", "kb", "tests")


def test_format() -> None:
    run("ruff", "format", "--check", "kb", "tests")


def test_types() -> None:
    run("mypy")


def test_imports_go_one_way() -> None:
    done = subprocess.run(
        [str(Path(sys.executable).parent / "lint-imports"), "--no-cache"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout


def test_shipped_library_has_no_fault() -> None:
    run("kb", "check", "articles")
