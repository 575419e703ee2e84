"""What the record holds for the program's own words is what the pages offer, no more, no less."""

from __future__ import annotations

from typing import get_args

from kb.incidents.actions import STATES
from kb.incidents.bodies import LINE_MEMBERS, FormAccounted
from kb.incidents.offered import OFFERED, is_offered
from kb.incidents.order import settle
from kb.web import stopforms
from tests.incidents.telling import event


def test_the_offered_words_are_those_of_the_pages() -> None:
    of_forms = get_args(FormAccounted.model_fields["state"].annotation)
    assert {
        "where": {*stopforms.COMPARTMENTS},
        "compartment": {*stopforms.COMPARTMENTS},
        "from": {*stopforms.WHERE_BALLOTS},
        "to": {*stopforms.WHERE_BALLOTS},
        "state": {*stopforms.SEAL_STATES, *of_forms, *STATES},
        "memory": {*stopforms.MEMORY},
        "role": {*stopforms.WITNESS_ROLES},
    } == OFFERED
    assert OFFERED.keys() <= LINE_MEMBERS


def test_nothing_else_is_the_programs_own() -> None:
    assert is_offered("where", "main ballot box")
    assert not is_offered("where", "main ballot box of Wren Tallow")
    assert not is_offered("words", "main ballot box")


def test_a_redacted_line_is_hidden_where_the_case_is_read() -> None:
    told = event("seal.removed", {"seal": "K1", "where": "told by Wren Tallow"})
    hide = event(
        "text.withheld", {"event": told.id, "members": ["where"], "reason": "a name"}, minute=1
    )
    first, _ = settle([told, hide])
    assert "Tallow" not in str(first.body)
    assert first.withheld == {"where"}
