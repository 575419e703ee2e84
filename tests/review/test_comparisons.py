"""The file of comparisons: read as it is meant, or every fault of it told at once."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from kb.base.errors import InputError, Problems
from kb.exchange.comparisons import read
from kb.review.measures.beforeafter import Comparison
from kb.review.sections import sections
from tests.review.making import ELECTION, case, material

HEAD = "name,equipment,before,places\n"
EARLIER = [
    material([case("B1", place="P1", equipment="scanner")], election=of)
    for of in (
        ELECTION.model_copy(update={"election": "E8", "date": date(2024, 5, 7)}),
        ELECTION.model_copy(update={"election": "E9", "date": date(2025, 5, 6)}),
    )
]
Write = Callable[[str], Path]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    def written(text: str) -> Path:
        path = tmp_path / "compare.csv"
        path.write_bytes(text.encode("utf-8"))
        return path

    return written


def comparisons(path: Path) -> list[Comparison]:
    return read(path, material(), EARLIER)


def faults(path: Path) -> list[tuple[int, str, str]]:
    with pytest.raises(Problems) as raised:
        comparisons(path)
    assert all(one.where == str(path) and one.code == "CMP" for one in raised.value.problems)
    return [(one.line, one.field, one.message) for one in raised.value.problems]


def test_a_good_file(write: Write) -> None:
    path = write(f"{HEAD}trained,scanner,E9,P1 P2\nall markers,bmd,E8,\n")
    assert comparisons(path) == [
        Comparison("trained", "scanner", "E9", frozenset({"P1", "P2"})),
        Comparison("all markers", "bmd", "E8", frozenset()),
    ]


def test_what_is_read_can_be_asked_of_a_review(write: Write) -> None:
    asked = comparisons(write(f"{HEAD}trained,scanner,E8,P1\n"))
    now = material([case("I1", place="P1", equipment="scanner"), case("I2", place="P2")])
    found = sections(now, EARLIER, asked)["before_after"]
    assert list(found) == ["trained"]
    line = found["trained"]
    assert (line["places"], line["before_k"], line["after_k"]) == (1, 1, 1)
    assert (line["before_exposure"], line["after_exposure"]) == (500, 500)


def test_columns_in_any_order_with_a_mark_windows_lines_and_spaces(write: Write) -> None:
    path = write('\ufeffplaces,before,equipment,name\r\n" P1  P2 ", E9 ,scanner,"a, b"\r\n')
    assert comparisons(path) == [Comparison("a, b", "scanner", "E9", frozenset({"P1", "P2"}))]


def test_a_file_without_rows_asks_nothing(write: Write) -> None:
    assert comparisons(write(HEAD)) == []


@pytest.mark.parametrize(
    ("row", "column", "message"),
    [
        (",scanner,E9,P1", "name", "name: is empty"),
        ("x,toaster,E9,P1", "equipment", "equipment: 'toaster' is none of bmd, scanner"),
        ("x,scanner,E1,P1", "before", "before: 'E1' is none of E8, E9"),
        ("x,scanner,,P1", "before", "before: '' is none of E8, E9"),
        ("x,scanner,E9,P1 P8 P9", "places", "places: not known: P8, P9"),
    ],
)
def test_each_fault_has_its_line_and_column(
    write: Write, row: str, column: str, message: str
) -> None:
    assert faults(write(f"{HEAD}good,scanner,E9,\n{row}\n")) == [(3, column, message)]


def test_a_name_stands_once(write: Write) -> None:
    path = write(f"{HEAD}x,scanner,E9,\nx,bmd,E9,\n")
    assert faults(path) == [(3, "name", "name: 'x' stands twice")]


def test_all_faults_are_told_at_once(write: Write) -> None:
    path = write(f"{HEAD},toaster,E1,P9\nx,scanner,E9,\nx,scanner,E7,P8\n")
    assert [one[:2] for one in faults(path)] == [
        (2, "before"), (2, "equipment"), (2, "name"), (2, "places"),
        (4, "before"), (4, "name"), (4, "places"),
    ]  # fmt: skip


def test_a_line_is_counted_as_an_editor_counts_it(write: Write) -> None:
    path = write(f'{HEAD}"two\nlines",scanner,E9,\nx,toaster,E9,\n')
    assert [one[:2] for one in faults(path)] == [(4, "equipment")]


def test_where_nothing_can_be_chosen_it_says_so(write: Write) -> None:
    with pytest.raises(Problems, match="no election before this one") as raised:
        read(write(f"{HEAD}x,scanner,E9,\n"), material(devices=()), [])
    assert "nothing is deployed" in str(raised.value)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "the columns are name, equipment, before, places; it has ."),
        ("name,equipment,before\nx,scanner,E9\n", "it has name, equipment, before."),
        ("name,equipment,before,places,why\n", "it has name, equipment, before, places, why."),
        ("name,equipment,before,before\n", "the columns are name"),
        (f'{HEAD}"x"y,scanner,E9,\n', "cannot be read as CSV in UTF-8"),
        (f'{HEAD}"x,scanner,E9,\n', "cannot be read as CSV in UTF-8"),
    ],
)
def test_what_is_no_such_table(write: Write, text: str, told: str) -> None:
    with pytest.raises(InputError) as raised:
        comparisons(write(text))
    assert told in str(raised.value)
    assert "compare.csv" in str(raised.value)


def test_what_is_no_csv_at_all(tmp_path: Path) -> None:
    path = tmp_path / "picture.csv"
    path.write_bytes(b"\x89PNG\r\n\x1a\n\xff\xfe")
    with pytest.raises(InputError, match=r"picture\.csv cannot be read as CSV in UTF-8"):
        comparisons(path)
    with pytest.raises(InputError, match=r"nowhere\.csv cannot be read"):
        comparisons(tmp_path / "nowhere.csv")


def test_a_line_of_another_length_is_told_with_its_other_faults(write: Write) -> None:
    with pytest.raises(Problems) as raised:
        comparisons(write(f"{HEAD}x,scanner,E7\nx,scanner,E9,P1,P2\n\n"))
    told = [(problem.line, problem.field) for problem in raised.value.problems]
    assert (2, "name") in told
    assert (2, "before") in told
    assert (3, "name") in told
    assert not [line for line, _ in told if line > 3]
