"""The command line as a person meets it: what it prints, where errors go, how it ends."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from kb.base.clock import now
from kb.cli import main
from kb.incidents.store.folder import DATABASE, open_folder

DEMO = Path(__file__).parents[1] / "demo"


def run(*words: str, environment: dict[str, str] | None = None) -> Result:
    return CliRunner().invoke(main, words, env={"LATCHBOOK_DATA": None} | (environment or {}))


@pytest.fixture
def data(tmp_path: Path) -> Path:
    path = tmp_path / "county"
    assert run("init", str(path)).exit_code == 0
    return path


def test_init_says_what_comes_next_and_its_link_works(tmp_path: Path) -> None:
    done = run("init", str(tmp_path / "county"))
    assert done.exit_code == 0
    assert "latchbook serve --data" in done.output
    link = re.search(r"/first-password/(\S+)", done.output)
    folder = open_folder(tmp_path / "county")
    assert link
    assert folder.people.link_login(link.group(1), now()) == "admin"
    folder.close()


def test_init_touches_nothing_that_is_there(data: Path) -> None:
    before = sorted(path.name for path in data.iterdir())
    again = run("init", str(data))
    assert again.exit_code == 1
    assert "is there already and is not empty" in again.stderr
    assert sorted(path.name for path in data.iterdir()) == before


def test_a_missing_folder_says_how_to_make_one(tmp_path: Path) -> None:
    done = run("serve", "--data", str(tmp_path / "nowhere"))
    assert done.exit_code == 1
    assert "There is no data folder at" in done.stderr
    assert "latchbook init" in done.stderr


def test_a_half_made_folder_says_what_is_missing(data: Path) -> None:
    (data / DATABASE).unlink()
    done = run("rebuild", "--data", str(data))
    assert done.exit_code == 1
    assert f"{DATABASE} is missing" in done.stderr


def test_a_database_that_is_none_says_so(data: Path) -> None:
    for file in data.glob(f"{DATABASE}*"):
        file.unlink()
    (data / DATABASE).write_bytes(b"not a database at all, but long enough to be looked at " * 20)
    done = run("rebuild", "--data", str(data))
    assert done.exit_code == 1
    assert "cannot be read" in done.stderr


def test_wrong_settings_are_told_all_at_once(data: Path) -> None:
    (data / "settings.toml").write_text('contry = "x"\nsession_hours = 0\n')
    done = run("rebuild", "--data", str(data))
    assert done.exit_code == 1
    assert "contry" in done.stderr
    assert "session_hours" in done.stderr


def test_no_folder_named_is_wrong_usage() -> None:
    done = run("rebuild")
    assert done.exit_code == 2
    assert "LATCHBOOK_DATA" in done.stderr


def test_the_demos_files_are_imported_and_a_second_time_change_nothing(data: Path) -> None:
    elections = data.parent / "elections.csv"
    elections.write_text(
        "election,name,date,time_zone,opens,closes\nfall,Fall,2026-11-03,Etc/GMT+5,07:00,20:00\n"
    )
    files = {
        "elections": elections,
        **{kind: DEMO / f"{kind}.csv" for kind in ("places", "equipment", "people")},
    }
    environment = {"LATCHBOOK_DATA": str(data)}
    for kind, path in files.items():
        checked = run("import", kind, str(path), "--check", environment=environment)
        assert "would be" in checked.output
        done = run("import", kind, str(path), environment=environment)
        assert done.exit_code == 0, done.output
        again = run("import", kind, str(path), environment=environment)
        assert " 0 new, 0 changed," in again.output
    assert "as they were" in run("rebuild", environment=environment).output


def test_a_broken_file_is_told_with_line_and_column_and_nothing_is_taken(data: Path) -> None:
    broken = data.parent / "places.csv"
    broken.write_text("place,name\nP1,Hall\n")
    done = run("import", "places", str(broken), "--data", str(data))
    assert done.exit_code == 1
    assert re.search(r"places\.csv:1 CSV05 .*zone", done.stderr)
    folder = open_folder(data)
    assert folder.record.places() == []
    folder.close()


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGTERM")
def test_the_demo_ends_cleanly_when_it_is_told_to(tmp_path: Path) -> None:
    environment = os.environ | {"TMPDIR": str(tmp_path)}
    command = [sys.executable, "-u", "-m", "kb", "demo", "--port", "0"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment) as process:
        assert process.stdout
        while "Latchbook is at" not in (line := process.stdout.readline()):
            assert line, "the demo ended by itself"
        process.terminate()
        assert process.wait(timeout=20) == 0
    assert list(tmp_path.iterdir()) == []


def test_search_prints_the_stop_line_and_the_first_step() -> None:
    done = run("search", "the", "lid", "keeps", "popping", "up")
    first = done.output.split("2. ")[0]
    assert "[box-lid-will-not-latch]" in first
    assert "Stop: " in first
    assert "First: " in first


def test_search_as_json_has_the_keys_of_the_contract() -> None:
    found = json.loads(run("search", "--json", "--limit", "2", "no", "power").output)
    assert found.keys() == {"query", "fits", "results"}
    assert len(found["results"]) == 2
    assert found["results"][0].keys() == {"slug", "title", "equipment", "score", "stop", "why"}


def test_a_batch_gives_one_object_a_line_even_for_an_empty_query(tmp_path: Path) -> None:
    batch = tmp_path / "queries.txt"
    batch.write_text("lid pops up\n\nتوقفت الآلة\n", encoding="utf-8")
    lines = [json.loads(line) for line in run("search", "--batch", str(batch)).output.splitlines()]
    assert [line["query"] for line in lines] == ["lid pops up", "", "توقفت الآلة"]
    assert [line["fits"] for line in lines][1:] == [False, False]


def test_search_without_words_is_wrong_usage() -> None:
    assert run("search").exit_code == 2


def test_another_library_may_be_flat_and_without_words(tmp_path: Path) -> None:
    (tmp_path / "gate-stuck.md").write_text(
        "---\ntitle: The gate is stuck\nkind: note\n---\n\nPush the gate.\n"
    )
    found = json.loads(run("search", "--json", "--library", str(tmp_path), "gate").output)
    assert [hit["slug"] for hit in found["results"]] == ["gate-stuck"]


def test_a_faulty_library_is_searched_without_its_faults_and_says_so(tmp_path: Path) -> None:
    (tmp_path / "bad.md").write_text("no front matter\n")
    done = run("search", "--library", str(tmp_path), "gate")
    assert done.exit_code == 0
    assert "1 faults" in done.stderr
    assert "latchbook check" in done.stderr


def test_measure_stands_beside_fts5(tmp_path: Path) -> None:
    queries = tmp_path / "q.tsv"
    queries.write_text("lid pops up\tbox-lid-will-not-latch\t2\n")
    assert "FTS5" in run("measure", str(queries)).output


def test_check_tells_file_line_code_and_ends_with_one(tmp_path: Path) -> None:
    (tmp_path / "bad.md").write_text("---\ntitle: x\ncolour: red\n---\n\nText.\n")
    done = run("check", str(tmp_path))
    assert done.exit_code == 1
    assert re.search(r"bad\.md:3 LB104 ", done.output)
    as_json = json.loads(run("check", "--json", str(tmp_path)).stdout)
    assert {"where", "line", "code", "message"} <= as_json[0].keys()


def test_check_of_a_folder_without_articles_says_so(tmp_path: Path) -> None:
    done = run("check", str(tmp_path))
    assert done.exit_code == 1
    assert "holds no article and no tree" in done.output


def test_an_empty_database_is_no_new_county(tmp_path: Path) -> None:
    assert run("init", str(tmp_path / "c")).exit_code == 0
    for name in ("latchbook.db", "latchbook.db-wal", "latchbook.db-shm"):
        (tmp_path / "c" / name).unlink(missing_ok=True)
    (tmp_path / "c" / "latchbook.db").touch()
    done = run("export", "places", environment={"LATCHBOOK_DATA": str(tmp_path / "c")})
    assert done.exit_code == 1
    assert "latchbook.db is empty. Put it back from a backup." in done.output


def test_check_of_the_shipped_library_is_clean() -> None:
    assert run("check", "--strict").exit_code == 0


def test_a_worksheet_is_written_filled_in_checked_and_taken(data: Path, tmp_path: Path) -> None:
    place = {"LATCHBOOK_DATA": str(data)}
    none = run("worksheet", environment=place)
    assert none.exit_code == 1
    assert "No election is set up yet" in none.stderr
    elections = tmp_path / "elections.csv"
    elections.write_text(
        "election,name,date,time_zone,opens,closes\nfall,Fall,2026-11-03,UTC,07:00,20:00\n"
    )
    assert run("import", "elections", str(elections), environment=place).exit_code == 0
    sheet = tmp_path / "sheet.yaml"
    assert run("worksheet", "--out", str(sheet), environment=place).exit_code == 0
    text = sheet.read_text(encoding="utf-8")
    assert text.startswith("election: fall\n")
    text = text.replace("  restart-scanner:\n", "  restart-scanner: yes\n")
    sheet.write_text(text, encoding="utf-8")
    checked = run("worksheet", str(sheet), "--check", environment=place)
    assert "1 answered" in checked.output
    assert "would be a draft" in checked.output
    assert "restart-scanner:\n" in run("worksheet", environment=place).output
    assert "a draft, not in force" in run("worksheet", str(sheet), environment=place).output
    assert "restart-scanner: yes\n" in run("worksheet", environment=place).output
    folder = open_folder(data)
    assert folder.worksheet.answers("fall") == {}
    folder.close()
    signed = f"{text}signed: {{by: Dana Quill, office: County counsel, date: 2026-10-01}}\n"
    sheet.write_text(signed, encoding="utf-8")
    assert "signed, in force" in run("worksheet", str(sheet), environment=place).output
    folder = open_folder(data)
    assert folder.worksheet.answers("fall") == {"restart-scanner": True}
    folder.close()


def test_a_faulty_worksheet_is_told_in_full(data: Path, tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.yaml"
    sheet.write_text("election: fall\nanswers:\n  lift: yes\n  clean-reader: perhaps\n")
    place = {"LATCHBOOK_DATA": str(data)}
    done = run("worksheet", str(sheet), environment=place)
    assert done.exit_code == 1
    assert f"{sheet}:3 WS101" in done.stderr
    assert f"{sheet}:4 WS101" in done.stderr
    sheet.write_text("election: fall\n")
    done = run("worksheet", str(sheet), environment=place)
    assert done.exit_code == 1
    assert "there is no election 'fall'" in done.stderr
    done = run("worksheet", str(sheet), "--election", "fall", environment=place)
    assert done.exit_code == 2
