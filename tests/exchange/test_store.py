"""Importing: what is new, changed and the same; nothing taken of a file with a fault."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from kb.base.errors import InputError, Problems, Refused
from kb.exchange.store import Report, import_table, starter_classes
from kb.exchange.tables import header
from kb.incidents.store.folder import Folder
from kb.people.accounts import Account
from tests.exchange.conftest import FILES, MANAGER

Take = Callable[..., Report]
BROKEN = Path(__file__).parents[1] / "fixtures/csv_broken"
EXPOSURE = (
    "place,date,opened_at,closed_at,ballots,sheets,checkins\n"
    "P01,2026-05-05,2026-05-05T07:03:00-05:00,2026-05-05T20:00:00-05:00,402,402,404\n"
)
PEOPLE = "login,name,role,zone,phone\na.one,Ada One,rover lead,Ferry,555-0160\n"


def case(**cells: str) -> str:
    return ",".join(cells.get(name, "") for name in header("incidents"))


def cases(*lines: str) -> str:
    return "\n".join([",".join(header("incidents")), *lines]) + "\n"


JAM = {
    "incident": "I1",
    "place": "P01",
    "asset": "SC-1",
    "equipment": "scanner",
    "symptom": "jam",
    "phase": "voting",
    "effect": "slowed",
    "flags": "custody ballots",
    "started_at": "2026-05-05T08:00:00-05:00",
    "reported_at": "2026-05-05T08:04:00-05:00",
    "restored_at": "2026-05-05T08:21:00-05:00",
    "outcome": "fixed-by-phone",
    "caller_words": "'=stuck",
}


def counts(report: Report) -> tuple[int, int, int]:
    return report.new, report.changed, report.same


@pytest.mark.parametrize("kind", FILES)
def test_second_import_of_a_file_changes_nothing(loaded: Take, folder: Folder, kind: str) -> None:
    version = folder.record.version()
    assert counts(loaded(kind, FILES[kind])) == (0, 0, 2)
    assert folder.record.version() == version


@pytest.mark.usefixtures("loaded")
def test_rows_arrive_typed(folder: Folder) -> None:
    place = folder.record.place("P01")
    assert (place.precincts, place.latitude, place.expected_voters) == (("101", "102"), 31.4, 410)
    assert folder.record.place("P02").name == "Mill House, back door"
    scanner = folder.record.devices("P01")[0]
    assert (scanner.asset, scanner.seals, scanner.spare) == ("SC-1", ("K1", "K2"), False)
    assert folder.record.election("E1").opening().isoformat() == "2026-05-05T07:00:00-05:00"


def test_changed_row_is_one_more_event(loaded: Take, folder: Folder) -> None:
    before = len(folder.record.events())
    report = loaded("places", FILES["places"].replace("Grange Hall", "New Grange Hall"))
    assert counts(report) == (0, 1, 1)
    assert folder.record.place("P01").name == "New Grange Hall"
    assert len(folder.record.events()) == before + 1
    # And back again: what holds is the last word, not the first.
    assert counts(loaded("places", FILES["places"])) == (0, 1, 1)
    assert folder.record.place("P01").name == "Grange Hall"


def test_turnout_belongs_to_its_election(loaded: Take, folder: Folder) -> None:
    assert counts(loaded("exposure", EXPOSURE, election="E1")) == (1, 0, 0)
    assert counts(loaded("exposure", EXPOSURE, election="E1")) == (0, 0, 1)
    assert [row.ballots for row in folder.record.exposures("E1")] == [402]
    assert folder.record.exposures("E2") == []


def test_imported_case_is_told_by_events(loaded: Take, folder: Folder) -> None:
    text = cases(case(**JAM), case(incident="I2", place="P02"))
    assert counts(loaded("incidents", text, election="E1")) == (2, 0, 0)
    incident = folder.record.incident("I1")
    assert incident is not None
    assert (incident.words, incident.outcome) == ("=stuck", "fixed-by-phone")
    assert incident.flags == {"ballots", "custody"}
    assert incident.imported
    assert all(event.imported for event in folder.record.events(incident="I1"))


def test_second_import_of_cases_is_the_same_and_a_change_holds(
    loaded: Take, folder: Folder
) -> None:
    first = cases(case(**JAM))
    loaded("incidents", first, election="E1")
    assert counts(loaded("incidents", first, election="E1")) == (0, 0, 1)
    second = cases(case(**JAM | {"outcome": "fixed-on-site"}))
    for text in (second, first):
        assert counts(loaded("incidents", text, election="E1")) == (0, 1, 0)
    incident = folder.record.incident("I1")
    assert incident is not None
    assert incident.outcome == "fixed-by-phone"


def test_two_elections_may_number_their_cases_alike(loaded: Take, folder: Folder) -> None:
    for election in ("E1", "E2"):
        text = cases(case(**JAM | {"note": f"log of {election}"}))
        assert counts(loaded("incidents", text, election=election)) == (1, 0, 0)
        assert counts(loaded("incidents", text, election=election)) == (0, 0, 1)
        assert [row.note for row in folder.record.incidents(election)] == [f"log of {election}"]


def test_unknown_asset_is_a_warning(loaded: Take, folder: Folder) -> None:
    report = loaded("incidents", cases(case(**JAM | {"asset": "SC-404"})), election="E1")
    assert [str(warning) for warning in report.warnings] == [
        f"{report.where}:2 CSV12 warning: asset: no asset 'SC-404' is known; the row is kept"
    ]
    assert folder.record.incidents("E1")[0].asset == "SC-404"


def test_check_takes_nothing(loaded: Take, folder: Folder) -> None:
    version = folder.record.version()
    report = loaded("incidents", cases(case(**JAM)), election="E1", check=True)
    assert counts(report) == (1, 0, 0)
    assert loaded("people", PEOPLE, check=True).new == 1
    assert folder.record.version() == version
    assert folder.people.all() == []


def test_people_become_accounts(take: Take, folder: Folder) -> None:
    assert counts(take("people", PEOPLE)) == (1, 0, 0)
    assert counts(take("people", PEOPLE)) == (0, 0, 1)
    assert counts(take("people", PEOPLE.replace("Ferry", "Upland"))) == (0, 1, 0)
    account = folder.people.get("a.one")
    assert (account.roles, account.zone) == ({"rover", "lead"}, "Upland")


@pytest.mark.usefixtures("loaded")
@pytest.mark.parametrize("path", sorted(BROKEN.glob("*.csv")), ids=lambda path: path.name)
def test_nothing_of_a_broken_file_is_taken(folder: Folder, path: Path) -> None:
    version = folder.record.version()
    kind = path.name.partition("-")[0]
    with pytest.raises(Problems):
        import_table(
            folder.record,
            folder.people,
            kind,
            path,
            actor=MANAGER,
            election="E1" if kind in {"exposure", "incidents"} else None,
        )
    assert folder.record.version() == version
    assert folder.people.all() == []


def test_a_text_that_no_event_can_hold_is_told_with_its_line(loaded: Take) -> None:
    text = FILES["places"].replace("Mill House", "x" * 501)
    with pytest.raises(Problems) as raised:
        loaded("places", text)
    assert [(p.line, p.field) for p in raised.value.problems] == [(3, "name")]


@pytest.mark.parametrize(
    ("kind", "election", "told"),
    [
        ("teapots", None, "No table is called 'teapots'"),
        ("exposure", None, "needs --election"),
        ("incidents", "E9", "no election 'E9' .known: E1, E2"),
    ],
)
def test_wrong_kind_or_election(loaded: Take, kind: str, election: str, told: str) -> None:
    with pytest.raises(InputError, match=told):
        loaded(kind, EXPOSURE, election=election)


def test_missing_file(folder: Folder) -> None:
    with pytest.raises(InputError, match=r"nowhere\.csv cannot be read: No such file"):
        import_table(folder.record, folder.people, "places", Path("nowhere.csv"), actor=MANAGER)


@pytest.mark.parametrize(("kind", "text"), [*FILES.items(), ("people", PEOPLE)])
@pytest.mark.parametrize("role", ["hotline", "rover", "author", "reader", "canvass"])
def test_roles_that_may_not_import(take: Take, kind: str, text: str, role: str) -> None:
    with pytest.raises(Refused, match="may not import"):
        take(kind, text, actor=Account("x.y", "Ex Why", frozenset({role})))


def test_starter_library_names_the_classes() -> None:
    assert {"scanner", "ballot-box", "epollbook", "power"} <= starter_classes()
