"""A call from the first ring to its outcome, as the server sees it (no scripts)."""

from __future__ import annotations

import pytest

from kb.incidents.incident import Incident
from kb.incidents.store.folder import Folder
from kb.library.article import Library
from tests.web.conftest import Browser, SignIn


@pytest.fixture
def desk(sign_in: SignIn) -> Browser:
    return sign_in("hotline")


@pytest.fixture
def call(desk: Browser) -> str:
    """The address of a new call."""
    desk.get("/calls")
    address = desk.post("/calls")
    desk.get(address)
    return address


def case_of(folder: Folder, call: str) -> Incident:
    found = folder.record.incident(call.rpartition("/")[2])
    assert found is not None
    return found


def test_answering_starts_the_case_by_itself(folder: Folder, call: str) -> None:
    case = case_of(folder, call)
    assert case.answered is not None
    assert case.election == "now"
    assert folder.record.number(case.id) == 1


def test_a_double_click_is_one_call_and_an_old_page_never_reopens_it(
    desk: Browser, folder: Folder
) -> None:
    desk.get("/calls")
    entry = desk.page.split('name="entry" value="')[2].split('"')[0]
    first = desk.post("/calls", entry=entry)
    assert desk.post("/calls", entry=entry) == first
    desk.get(first)
    desk.post(f"{first}/notes", words="it is stuck")
    assert desk.post("/calls", entry=entry) != first
    assert len(folder.record.incidents("now")) == 2


def test_place_and_words_are_stored_and_results_show_stop_line_and_first_step(
    desk: Browser, folder: Folder, call: str, library: Library
) -> None:
    desk.post(f"{call}/notes", place="Mill Hall", words="ballot stuck going in", phase="voting")
    page = desk.get(call)
    case = case_of(folder, call)
    assert (case.place, case.words, case.phase) == ("P1", "ballot stuck going in", "voting")
    article = library.articles["jam-at-entry"]
    assert article.title in page
    assert article.stop in page
    assert "First:" in page
    assert "555-0111" in page


@pytest.mark.parametrize("typed", ["P1", "mill hall", "101", "SC-1", "555-0111", "P1 · Mill Hall"])
def test_a_place_is_found_by_number_name_precinct_device_or_phone(
    desk: Browser, folder: Folder, call: str, typed: str
) -> None:
    desk.post(f"{call}/notes", place=typed)
    assert case_of(folder, call).place == "P1"


def test_several_places_are_offered_and_what_was_typed_is_kept(
    desk: Browser, folder: Folder, call: str
) -> None:
    desk.post(f"{call}/notes", 422, place="mill", words="it is stuck")
    assert "Several places fit" in desk.page
    assert "<title>Error:" in desk.page
    assert 'value="it is stuck"' in desk.page
    assert case_of(folder, call).words is None
    desk.post(f"{call}/notes", place="mill", place_pick="P2", words="it is stuck")
    assert case_of(folder, call).place == "P2"


def test_an_unknown_place_says_what_to_try(desk: Browser, call: str) -> None:
    desk.post(f"{call}/notes", 422, place="Atlantis")
    assert "No place fits “Atlantis”" in desk.page


def test_only_what_changed_becomes_an_entry(desk: Browser, folder: Folder, call: str) -> None:
    desk.post(f"{call}/notes", place="P1", words="it is stuck")
    desk.get(call)
    before = folder.record.size()
    desk.post(f"{call}/notes", place="P1", words="it is stuck")
    assert folder.record.size() == before


def test_a_form_sent_twice_is_stored_once(desk: Browser, folder: Folder, call: str) -> None:
    for _ in range(2):
        desk.post(f"{call}/pick/jam-at-entry", words="stuck", entry="one-form")
    assert len(case_of(folder, call).articles) == 1


def test_a_form_changed_after_going_back_is_stored_as_well(
    desk: Browser, folder: Folder, call: str
) -> None:
    for note in ("first", "second"):
        desk.post(f"{call}/finish", effect="none", way="open", note=note, entry="one-form")
    assert [said.text for said in case_of(folder, call).notes] == ["first", "second"]


def test_text_that_looks_personal_is_asked_about_first(
    desk: Browser, folder: Folder, call: str
) -> None:
    desk.post(f"{call}/notes", 422, words="voter 078-05-1120 cannot be found")
    assert "This looks like" in desk.page
    assert case_of(folder, call).words is None
    desk.post(f"{call}/notes", words="voter 078-05-1120 cannot be found", keep_words="yes")
    assert case_of(folder, call).words
    # A fix is never held up by it.
    other = desk.post("/calls")
    desk.get(other)
    desk.post(f"{other}/pick/smoke-smell-heat", words="smoke! call me 212-555-0134")
    assert case_of(folder, other).articles[0].slug == "smoke-smell-heat"
    assert "212-555-0134" not in str(case_of(folder, other).timeline)
    # Once it is stored it is not asked about again.
    desk.post(f"{call}/pick/jam-at-entry", words="voter 078-05-1120 cannot be found")


def test_what_is_typed_in_the_other_form_is_kept_when_one_is_sent(
    desk: Browser, folder: Folder, call: str
) -> None:
    # With scripts a form carries the other's fields; here as the browser then sends them.
    desk.post(f"{call}/notes", words="stuck", note="half a sentence", flags=["ballots", "law"])
    page = desk.get(call)
    assert "half a sentence" in page
    assert page.count(" checked>") == 2
    assert case_of(folder, call).notes == ()
    # And as it is without scripts: the draft of the other form stays.
    desk.post(f"{call}/notes", words="stuck fast")
    assert "half a sentence" in desk.get(call)


def test_a_place_typed_and_not_sent_is_entered_with_the_pick(
    desk: Browser, folder: Folder, call: str
) -> None:
    desk.post(f"{call}/pick/jam-at-entry", place="Mill Hall", words="stuck")
    assert case_of(folder, call).place == "P1"


def test_a_note_that_looks_personal_is_asked_about_at_the_finish(
    desk: Browser, folder: Folder, call: str
) -> None:
    finish(desk, call, 422, effect="none", way="open", note="mail ann@example.org")
    assert "an e-mail address" in desk.page
    finish(desk, call, effect="none", way="open", note="mail ann@example.org", keep_note="yes")
    assert case_of(folder, call).notes[0].text == "mail ann@example.org"


def test_a_draft_survives_a_closed_browser(desk: Browser, sign_in: SignIn, call: str) -> None:
    token = desk.form_token
    desk.client.post(
        f"{call}/draft", data={"form_token": token, "note": "half a sentence", "x": "y"}
    )
    again = sign_in("hotline")
    assert "half a sentence" in again.get(call)
    assert call in again.get("/calls")


def test_opening_an_article_is_kept_with_the_words_and_fills_the_case(
    desk: Browser, folder: Folder, call: str, library: Library
) -> None:
    desk.post(f"{call}/notes", place="P1", words="stuck")
    desk.get(call)
    address = desk.post(f"{call}/pick/jam-at-entry", words="stuck fast in the slot")
    page = desk.get(address)
    case = case_of(folder, call)
    picked = case.articles[-1]
    assert (picked.slug, picked.words) == ("jam-at-entry", "stuck fast in the slot")
    assert picked.hash == library.articles["jam-at-entry"].hash
    assert (case.equipment, case.symptom) == ("scanner", "jam")
    assert "Not set: ask the office" in page
    assert "Walk through it" in page


def test_a_tree_is_walked_answers_change_and_none_is_lost(
    desk: Browser, folder: Folder, call: str
) -> None:
    tree = f"{call}/tree/ballot-jam"
    page = desk.get(tree)
    first = page.split('name="step" value="')[1].split('"')[0]
    no = "No"
    desk.post(tree, step=first, answer=no)
    page = desk.get(tree)
    assert "Answered so far" in page
    desk.get(f"{tree}/{first}")
    assert "Answered before: “No”" in desk.page
    labels = [part.split('"')[0] for part in desk.page.split('name="answer" value="')[1:]]
    other = next(label for label in labels if label != no)
    desk.post(tree, step=first, answer=other)
    case = case_of(folder, call)
    assert [given.answer for given in case.walks[0].history] == [no, other]
    assert [answer for _, _, answer in case.walks[0].answers] == [other]


def test_what_an_end_proposes_follows_the_answers_and_not_an_older_end(
    desk: Browser, folder: Folder, call: str
) -> None:
    tree = f"{call}/tree/ballot-jam"
    first = desk.get(tree).split('name="step" value="')[1].split('"')[0]
    desk.post(tree, step=first, answer="Yes, or I am not sure")
    page = desk.get(tree)
    assert 'value="open" checked' in page
    assert 'value="safety" checked' in page
    # As scripts send it: what the end filled in comes along with the changed answer.
    reason = page.split('name="reason" value="')[1].split('"')[0]
    desk.post(tree, step=first, answer="No", way="open", reason=reason, note="", words="")
    assert " checked>" not in desk.get(tree).split('id="way"')[1]
    assert folder.record.draft("hotline", call.rpartition("/")[2]) == {}


def test_what_a_person_typed_at_the_finish_outlasts_an_answer(
    desk: Browser, folder: Folder, call: str
) -> None:
    tree = f"{call}/tree/ballot-jam"
    first = desk.get(tree).split('name="step" value="')[1].split('"')[0]
    desk.post(tree, step=first, answer="No", effect="stopped", reason="bring a spare", note="")
    kept = folder.record.draft("hotline", call.rpartition("/")[2])
    assert kept == {"effect": "stopped", "reason": "bring a spare"}


def test_an_answer_that_is_none_is_refused(desk: Browser, folder: Folder, call: str) -> None:
    tree = f"{call}/tree/ballot-jam"
    step = desk.get(tree).split('name="step" value="')[1].split('"')[0]
    desk.post(tree, 400, step=step, answer="Perhaps")
    assert "Pick one of the answers" in desk.page
    desk.get(tree)
    desk.post(tree, 400, step="ballot-jam.gone", answer="No")
    assert not case_of(folder, call).walks


def test_a_walk_is_finished_on_the_text_it_began_on(
    desk: Browser, folder: Folder, call: str, library: Library
) -> None:
    tree = f"{call}/tree/ballot-jam"
    step = desk.get(tree).split('name="step" value="')[1].split('"')[0]
    desk.post(tree, step=step, answer="No")
    version = case_of(folder, call).walks[0].hash
    assert folder.record.text(version) == library.trees["ballot-jam"].text


def finish(desk: Browser, call: str, status: int = 303, **fields: object) -> None:
    desk.get(call)
    desk.post(f"{call}/finish", status, **fields)


def test_closing_needs_the_time_it_worked_again_or_the_reason(
    desk: Browser, folder: Folder, call: str
) -> None:
    finish(
        desk, call, 422, effect="device", way="close", outcome="fixed-by-phone", note="kept text"
    )
    assert "Give the time it worked again, or why there is none" in desk.page
    assert "kept text" in desk.page
    assert case_of(folder, call).status == "open"
    finish(desk, call, effect="device", way="close", outcome="fixed-by-phone", restored="00:00")
    case = case_of(folder, call)
    assert (case.status, case.outcome, case.effect) == ("closed", "fixed-by-phone", "device")
    assert case.restored is not None


def test_all_faults_of_the_finish_are_told_at_once(desk: Browser, call: str) -> None:
    finish(desk, call, 422, wait_minutes="many", way="rover")
    for fault in ("Say what it does to voting", "not a whole number", "Pick the rover to send"):
        assert fault in desk.page


def test_a_rover_is_sent_and_the_case_stays_open(desk: Browser, folder: Folder, call: str) -> None:
    finish(desk, call, effect="slowed", way="rover", rover="rover", reason="bring a roller kit")
    case = case_of(folder, call)
    assert (case.rover, case.status, case.effect) == ("rover", "open", "slowed")
    assert call not in desk.get("/calls").split("Open cases")[0]


def test_another_open_case_of_the_place_is_pointed_out(desk: Browser, call: str) -> None:
    desk.post(f"{call}/notes", place="P1", words="stuck")
    desk.get("/calls")
    second = desk.post("/calls")
    desk.get(second)
    desk.post(f"{second}/notes", place="P1")
    assert "Is this call about a case that is open here?" in desk.get(second)


def test_results_alone_for_words_as_typed(desk: Browser, call: str) -> None:
    text = desk.get(f"{call}/results?q=no+power+at+all")
    assert "<html" not in text
    assert "Scanner shows no sign of power" in text
    assert "Type what the caller says" in desk.get(f"{call}/results?q=")


def test_places_as_typed(desk: Browser) -> None:
    answer = desk.client.get("/calls/places?q=mill").get_json()
    assert [place["value"] for place in answer] == ["P1 · Mill Hall", "P2 · Mill School"]


def test_a_call_that_does_not_exist(desk: Browser) -> None:
    desk.get("/calls/00000000-0000-4000-8000-000000000000", 404)
    assert "There is no such incident" in desk.page


def seen(desk: Browser, call: str) -> str:
    return desk.get(call).split('name="seen" value="')[1].split('"')[0]


def test_an_older_page_undoes_nothing_that_somebody_else_has_told_since(
    desk: Browser, sign_in: SignIn, folder: Folder, call: str
) -> None:
    finish(desk, call, effect="device", way="open")
    old = seen(desk, call)
    lead = sign_in("lead")
    finish(lead, call, effect="stopped", flags="safety", way="open", seen=old)
    finish(desk, call, effect="device", flags="ballots", way="open", seen=old)
    case = case_of(folder, call)
    assert (case.effect, case.flags) == ("stopped", {"safety", "ballots"})


def test_a_case_closed_meanwhile_is_not_sent_a_rover(
    desk: Browser, folder: Folder, call: str
) -> None:
    finish(desk, call, effect="none", way="close", outcome="caller-lost", no_restored="cut off")
    finish(desk, call, 422, effect="none", way="rover", rover="rover")
    assert "This case was closed meanwhile" in desk.page
    finish(desk, call, effect="none", way="open", note="the judge called again")
    assert case_of(folder, call).late


def test_a_device_goes_with_its_place(desk: Browser, folder: Folder, call: str) -> None:
    desk.post(f"{call}/notes", place="P1")
    desk.get(call)
    desk.post(f"{call}/notes", place="P1", asset="SC-1")
    assert case_of(folder, call).asset == "SC-1"
    desk.get(call)
    desk.post(f"{call}/notes", place="P2", asset="SC-1")
    assert (case_of(folder, call).place, case_of(folder, call).asset) == ("P2", None)


def test_nothing_of_a_form_is_stored_where_a_part_of_it_is_at_fault(
    desk: Browser, folder: Folder, call: str
) -> None:
    before = folder.record.size()
    desk.post(f"{call}/notes", 422, words="it is stuck", call_back="5" * 600)
    assert "Shorten this to 500 characters" in desk.page
    assert folder.record.size() == before


def test_what_a_page_showed_is_nobodys_draft(
    desk: Browser, sign_in: SignIn, folder: Folder, call: str
) -> None:
    finish(desk, call, effect="device", way="open")
    old = seen(desk, call)
    finish(sign_in("lead"), call, effect="stopped", way="open", seen=old)
    data = {
        "form_token": desk.form_token,
        "seen": old,
        "effect": "device",
        "note": "x",
        "words": "",
    }
    assert desk.client.post(f"{call}/draft", data=data).status_code == 204
    assert folder.record.draft("hotline", call.rpartition("/")[2]) == {"note": "x"}


def test_a_finish_sent_twice_ends_well_both_times(desk: Browser, folder: Folder, call: str) -> None:
    fields = {"effect": "none", "way": "close", "outcome": "caller-lost", "no_restored": "cut off"}
    for _ in range(2):
        desk.post(f"{call}/finish", entry="one-form", **fields)
        assert desk.location == "/calls"
    assert folder.record.drafts("hotline") == {}


def test_a_voter_who_calls_is_called_a_voter(desk: Browser, call: str) -> None:
    assert '<option value="voter">voter</option>' in desk.get(call)


def test_a_fault_does_not_make_an_old_page_a_new_one(desk: Browser, call: str) -> None:
    old = seen(desk, call)
    desk.post(f"{call}/notes", words="it is stuck")
    desk.post(f"{call}/finish", 422, seen=old, words="it is stuck")
    assert desk.page.count(f'name="seen" value="{old}"') == 2
