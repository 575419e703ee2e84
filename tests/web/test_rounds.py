"""A rover's stop: arrive, counter, seal, two witnesses, opened and closed, restore."""

from __future__ import annotations

from datetime import timedelta

import pytest

from kb.base.clock import now
from kb.incidents.incident import Incident
from kb.incidents.store.folder import Folder
from kb.people.accounts import Account
from tests.web.conftest import Browser, SignIn


@pytest.fixture
def stop(sign_in: SignIn) -> str:
    """A stop of the rover at Mill Hall; its address."""
    desk = sign_in("hotline")
    desk.get("/calls")
    call = desk.post("/calls")
    desk.get(call)
    desk.post(f"{call}/notes", place="P1", words="lid will not shut")
    desk.get(call)
    desk.post(f"{call}/pick/box-lid-will-not-latch", words="lid will not shut")
    desk.get(call)
    desk.post(f"{call}/finish", effect="device", way="rover", rover="rover", reason="new latch")
    return call.replace("/calls/", "/rounds/")


@pytest.fixture
def rover(sign_in: SignIn, stop: str) -> Browser:
    browser = sign_in("rover")
    browser.get(stop)
    return browser


def case_of(folder: Folder, stop: str) -> Incident:
    found = folder.record.incident(stop.rpartition("/")[2])
    assert found is not None
    return found


def do(rover: Browser, stop: str, task: str, status: int = 303, **fields: object) -> None:
    rover.get(f"{stop}/do/{task}")
    rover.post(f"{stop}/do/{task}", status, **fields)


def test_the_stop_says_where_whom_what_and_the_stop_line(rover: Browser, stop: str) -> None:
    assert "Mill Hall" in rover.get("/rounds")
    page = rover.get(stop)
    for expected in (
        "1 Mill Lane",
        "555-0111",
        "lid will not shut",
        "With ballots inside",
        "new latch",
    ):
        assert expected in page


def test_a_whole_stop(rover: Browser, folder: Folder, stop: str) -> None:
    rover.post(f"{stop}/do/arrived")
    do(rover, stop, "counter", asset="SC-1", public="1,204", protective="6204", moment="before")
    do(rover, stop, "seal", way="removed", seal="K102", where="main ballot box", state="whole")
    do(rover, stop, "compartment", way="opened", compartment="main ballot box")
    do(
        rover, stop, "witnesses",
        name1="Wren Tallow", role1="chief judge", confirmed1="signature",
        name2="Odd Marsh", role2="poll worker", confirmed2="paper number",
    )  # fmt: skip
    do(rover, stop, "compartment", way="closed", compartment="main ballot box")
    do(
        rover,
        stop,
        "seal",
        way="applied",
        other_seal="K999",
        where="main ballot box",
        state="whole",
    )
    do(rover, stop, "note", text="latch bent, spare fitted")
    do(rover, stop, "restore", outcome="fixed-on-site", cause="wear")
    case = case_of(folder, stop)
    assert case.arrived is not None
    assert [(one.asset, one.public, one.moment) for one in case.counters] == [
        ("SC-1", 1204, "before")
    ]
    assert [one.number for one in case.seals_off] == ["K102"]
    assert [one.number for one in case.seals_on] == ["K999"]
    assert [one.name for one in case.witnesses] == ["Wren Tallow", "Odd Marsh"]
    assert case.compartments[0].closed is not None
    assert (case.status, case.outcome, case.cause) == ("closed", "fixed-on-site", "wear")
    assert case.restored is not None
    page = rover.get("/rounds")
    assert "No open stop" in page
    assert "Done today" in page


@pytest.mark.parametrize(
    ("task", "fields", "fault"),
    [
        ("counter", {"asset": "SC-1", "public": "12o4", "moment": "before"}, "not a whole number"),
        (
            "counter",
            {"asset": "SC-77", "public": "1", "moment": "after"},
            "No device is numbered SC-77",
        ),
        ("seal", {"where": "other", "way": "removed"}, "Pick the seal from the list"),
        ("seal", {"seal": "K102", "where": "other"}, "came off or went on"),
        ("witnesses", {"name1": "Wren Tallow", "name2": "wren tallow"}, "Two different persons"),
        ("witnesses", {"name1": "Wren Tallow"}, "Name witness 2"),
        ("compartment", {"way": "opened"}, "what was opened or closed"),
        ("note", {"text": "  "}, "Write the note"),
        ("note", {"text": "x", "happened": "25:00"}, "is not a time"),
        ("restore", {"outcome": "stopped-and-secured"}, "Say why there is no time"),
        ("restore", {}, "Say how it ended"),
    ],
)
def test_a_fault_is_told_beside_its_field_and_nothing_is_stored(
    rover: Browser, folder: Folder, stop: str, task: str, fields: dict[str, str], fault: str
) -> None:
    before = folder.record.size()
    do(rover, stop, task, 422, **fields)
    assert fault in rover.page
    assert "<title>Error:" in rover.page
    assert folder.record.size() == before


def test_what_was_typed_comes_back_with_the_fault(rover: Browser, stop: str) -> None:
    do(rover, stop, "witnesses", 422, name1="Wren Tallow")
    assert 'value="Wren Tallow"' in rover.page


def test_a_walk_begun_on_the_phone_goes_on_at_the_stop(
    sign_in: SignIn, rover: Browser, stop: str
) -> None:
    desk = sign_in("hotline")
    tree = stop.replace("/rounds/", "/calls/") + "/tree/lid-or-lock-will-not-hold"
    step = desk.get(tree).split('name="step" value="')[1].split('"')[0]
    answer = desk.page.split('name="answer" value="')[1].split('"')[0]
    desk.post(tree, step=step, answer=answer)
    page = rover.get(f"{stop}/tree/lid-or-lock-will-not-hold")
    assert "Answered so far" in page
    assert f"<strong>{answer}</strong>" in page


def test_a_task_that_does_not_exist(rover: Browser, stop: str) -> None:
    rover.get(f"{stop}/do/juggle", 404)
    assert "There is no task" in rover.page


def test_a_second_rover_is_not_there_because_the_first_was(
    sign_in: SignIn, rover: Browser, folder: Folder, stop: str
) -> None:
    rover.post(f"{stop}/do/arrived")
    assert case_of(folder, stop).rover_there
    folder.people.put(Account("second", "Second Rover", frozenset({"rover"})))
    call = stop.replace("/rounds/", "/calls/")
    sign_in("hotline").post(f"{call}/finish", effect="device", way="rover", rover="second")
    assert not case_of(folder, stop).rover_there
    assert "I am here" in rover.get(stop)


def test_a_time_changed_after_going_back_is_stored_as_well(
    rover: Browser, folder: Folder, stop: str
) -> None:
    # Hours ago, whatever the hour: a time a little ahead would be asked about.
    for clock in (f"{now() - timedelta(hours=hours):%H:%M}" for hours in (3, 2)):
        do(rover, stop, "note", text="seen", happened=clock, entry="one-form")
    assert len(case_of(folder, stop).notes) == 2


def test_nothing_works_again_before_it_began(rover: Browser, folder: Folder, stop: str) -> None:
    began = case_of(folder, stop).reported
    assert began is not None
    earlier = f"{began - timedelta(minutes=30):%H:%M}"
    fields = {"outcome": "fixed-on-site", "incomplete": "in a hurry", "happened": earlier}
    do(rover, stop, "restore", 422, **fields)
    assert "so it cannot have worked again at" in rover.page
    assert case_of(folder, stop).restored is None


def test_a_case_whose_record_is_not_whole_is_not_closed_without_a_reason(
    rover: Browser, folder: Folder, stop: str
) -> None:
    do(rover, stop, "compartment", way="opened", compartment="emergency compartment")
    assert "the record still needs" in rover.get(stop)
    do(rover, stop, "restore", 422, outcome="fixed-on-site")
    assert case_of(folder, stop).status == "open"
    do(rover, stop, "restore", outcome="fixed-on-site", incomplete="the team had to leave: flood")
    found = case_of(folder, stop)
    assert (found.status, found.incomplete) == ("closed", "the team had to leave: flood")
    assert "Closed with a record that is not whole" in rover.get(
        stop.replace("/rounds/", "/incidents/")
    )


def test_a_seal_that_was_not_delivered_here_is_asked_about_once(
    rover: Browser, folder: Folder, stop: str
) -> None:
    fields = {"way": "removed", "other_seal": "K120", "where": "main ballot box", "state": "whole"}
    rover.get(f"{stop}/do/seal")
    rover.post(f"{stop}/do/seal", 422, **fields)
    assert "K102 is: two digits are exchanged" in rover.page
    assert not case_of(folder, stop).seals_off
    do(rover, stop, "seal", as_read="yes", **fields)
    assert [seal.number for seal in case_of(folder, stop).seals_off] == ["K120"]
    # The seal that came off never goes on again.
    do(rover, stop, "seal", 422, **(fields | {"way": "applied"}))


def test_stored_ballots_that_do_not_come_out_even_keep_the_case_open(
    rover: Browser, folder: Folder, stop: str
) -> None:
    do(rover, stop, "ballots", source="emergency compartment", to="scanner", count="23")
    do(rover, stop, "tally", stored="23", accepted="20", returned="2")
    page = rover.get(f"{stop}/do/restore")
    assert "leave 1 not accounted for" in page
    do(rover, stop, "restore", 422, outcome="fixed-on-site")
    do(rover, stop, "tally", stored="23", accepted="20", returned="3")
    do(rover, stop, "restore", outcome="fixed-on-site")
    assert case_of(folder, stop).status == "closed"


def test_a_swap_names_two_known_devices(rover: Browser, folder: Folder, stop: str) -> None:
    swap = {"memory": "sealed in a pouch"}
    do(rover, stop, "swap", 422, old="SC-1", other_new="SC-7", **swap)
    do(rover, stop, "swap", 422, old="SC-1", other_new="SC-1", **swap)
    do(rover, stop, "swap", old="SC-1", new="SC-9", **swap)
    assert [(one.old, one.new) for one in case_of(folder, stop).swaps] == [("SC-1", "SC-9")]


def test_the_hotline_writes_down_what_a_caller_reads_out(sign_in: SignIn, stop: str) -> None:
    desk, call = sign_in("hotline"), stop.replace("/rounds/", "/calls/")
    assert "Write down a counter" in desk.get(call)
    desk.get(f"{stop}/do/counter")
    onward = desk.post(f"{stop}/do/counter", asset="SC-1", public="12", moment="before")
    assert onward.startswith(call)
    assert "public 12" in desk.get(call)
