from __future__ import annotations

from kb.incidents import lists

# The ids of the county's files, as the description of the files gives them.
FILES = {
    "PHASES": "set-up opening voting closing return",
    "EFFECTS": "stopped slowed device none",
    "FLAGS": "ballots access custody safety law",
    "OUTCOMES": "fixed-by-phone fixed-on-site contingency-then-fixed contingency-to-close "
    "device-swapped stopped-and-secured passed-to-supervisor passed-to-police-or-fire "
    "not-equipment duplicate no-fault-found caller-lost",
    "CAUSES": "power consumable paper wear hardware software setup-data delivery training voter "
    "environment third-party deliberate none-found",
    "CONFIDENCES": "confirmed likely unknown",
    "SYMPTOMS": "jam multi-feed rejects-good rejects-many frozen restarted no-power stuck-start "
    "wrong-identity clock-wrong counter-odd memory-message slow noise alarm-sound code-refused "
    "will-not-open will-not-close will-not-latch will-not-lock full diverter seal-missing "
    "seal-broken touch-off audio-dead controls-dead wrong-ballot does-not-print faint torn "
    "out-of-paper will-not-connect low-battery found-item short-supply count-disagrees "
    "site-locked entrance-blocked line-long other",
}


def test_the_ids_are_those_of_the_files() -> None:
    for name, ids in FILES.items():
        assert list(getattr(lists, name)) == ids.split(), name


def test_no_id_is_shown_in_two_ways() -> None:
    for name in FILES:
        for identifier, word in getattr(lists, name).items():
            assert lists.SHOWN[identifier] == word


def test_words_that_the_office_says() -> None:
    assert lists.OUTCOMES["duplicate"] == "same case"
    assert lists.OUTCOMES["passed-to-supervisor"] == "passed to the duty officer"
    assert lists.PHASES["return"] == "hand-in"
    accusing = {"training", "voter", "deliberate"}
    assert {lists.CAUSES[cause] for cause in accusing} == {
        "instructions",
        "ballot handling",
        "under inquiry",
    }


def test_a_misfeed_is_a_scanners() -> None:
    assert lists.is_misfeed("scanner", "rejects-good")
    assert not lists.is_misfeed("ballot-printer", "jam")
    assert not lists.is_misfeed("scanner", "rejects-many")
