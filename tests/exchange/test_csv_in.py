"""Reading files: RFC 4180's own examples, and every broken file with all its faults."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from kb.base.errors import Problems
from kb.exchange.csv_in import CODES, Content, read
from kb.exchange.tables import TABLES, Column, Table, header

BROKEN = Path(__file__).parents[1] / "fixtures/csv_broken"
EXPECTED = tomllib.loads((BROKEN / "expected.toml").read_text("utf-8"))
KNOWN = {
    "place": {"P01"},
    "asset": set[str](),
    "equipment": {"scanner", "report-printer"},
    "incident": set[str](),
}
THREE = Table("three", ("a",), (Column("a"), Column("b"), Column("c")))


def three(body: bytes) -> list[tuple[object, ...]]:
    content = read(b"a,b,c\r\n" + body, "three.csv", THREE, {})
    return [(row.line, *row.values.values()) for row in content.rows]


@pytest.mark.parametrize(
    ("body", "rows"),
    [
        # RFC 4180 section 2, examples 1, 2, 5, 6 and 7.
        (b"aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", [(2, "aaa", "bbb", "ccc"), (3, "zzz", "yyy", "xxx")]),
        (b"aaa,bbb,ccc\r\nzzz,yyy,xxx", [(2, "aaa", "bbb", "ccc"), (3, "zzz", "yyy", "xxx")]),
        (b'"aaa","bbb","ccc"\r\nzzz,yyy,xxx', [(2, "aaa", "bbb", "ccc"), (3, "zzz", "yyy", "xxx")]),
        (
            b'"aaa","b\r\nbb","ccc"\r\nzzz,yyy,xxx',
            [(2, "aaa", "b\r\nbb", "ccc"), (4, "zzz", "yyy", "xxx")],
        ),
        (b'"aaa","b""bb","ccc"', [(2, "aaa", 'b"bb', "ccc")]),
        # Rule 4: spaces are part of a field.
        (b" aaa,bbb ,ccc", [(2, " aaa", "bbb ", "ccc")]),
    ],
)
def test_rfc_4180_examples(body: bytes, rows: list[tuple[object, ...]]) -> None:
    assert three(body) == rows


def test_byte_order_mark_column_order_and_empty_lines_do_not_matter() -> None:
    content = read("﻿c,a,b\n\n3,1,2\n".encode(), "three.csv", THREE, {})
    assert content.rows[0].line == 3
    assert content.rows[0].values == {"a": "1", "b": "2", "c": "3"}


@pytest.mark.parametrize("name", sorted(path.name for path in BROKEN.glob("*.csv")))
def test_all_faults_of_a_broken_file_are_told_at_once(name: str) -> None:
    table = TABLES[name.partition("-")[0]]
    with pytest.raises(Problems) as raised:
        read((BROKEN / name).read_bytes(), name, table, KNOWN)
    problems = raised.value.problems
    assert {problem.where for problem in problems} == {name}
    found = [f"{problem.line} {problem.code} {problem.field}" for problem in problems]
    assert sorted(found) == sorted(EXPECTED[name])
    assert str(raised.value).startswith(f"{name}:")


def test_every_code_has_a_broken_file() -> None:
    shown = {fault.split()[1] for faults in EXPECTED.values() for fault in faults}
    # CSV12 is a warning: no file is refused for it, and the next test shows it.
    assert shown | {"CSV12"} == set(CODES)


def one(kind: str, **cells: str) -> Content:
    names = header(kind)
    line = ",".join(cells.get(name, "") for name in names)
    return read(f"{','.join(names)}\n{line}\n".encode(), f"{kind}.csv", TABLES[kind], KNOWN)


def test_unknown_asset_of_an_incident_is_kept_and_warned_about() -> None:
    content = one("incidents", incident="I1", asset="SC-404")
    assert content.rows[0].values["asset"] == "SC-404"
    assert [(w.line, w.code, w.field, w.warning) for w in content.warnings] == [
        (2, "CSV12", "asset", True)
    ]


def test_columns_that_may_miss_are_filled_as_if_empty() -> None:
    body = b"place,date,opened_at,closed_at,ballots,sheets,checkins\nP01,2026-05-05,,,,,\n"
    content = read(body, "exposure.csv", TABLES["exposure"], KNOWN)
    assert content.rows[0].values["ballots"] is None
    body = b"login,name,role,zone,phone\na.one,Ada One,rover,,\n"
    assert read(body, "people.csv", TABLES["people"], {}).rows[0].values["role"] == ["rover"]


def test_a_row_may_name_another_row_of_its_file() -> None:
    lines = (
        "asset,equipment,model,batch,place,spare,seals,public_counter,protective_counter,part_of\n"
        "RP-1,report-printer,,,,no,,,,SC-1\nSC-1,scanner,,,,no,,,,\n"
    )
    content = read(lines.encode(), "equipment.csv", TABLES["equipment"], KNOWN)
    assert [row.values["part_of"] for row in content.rows] == ["SC-1", None]
