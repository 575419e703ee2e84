from __future__ import annotations

import pytest

from kb.incidents.kinds import KINDS
from kb.incidents.roles import CORRECTS_OTHERS, ROLES_FOR
from kb.people.roles import ROLES

# Who may enter what, as agreed with the office: h hotline, l lead, r rover, m manager,
# a administrator. Author, viewer and canvass board enter nothing.
AGREED = """
call.offered            hlm
call.answered           hlm
call.ended              hlm
incident.reported       hlrm
incident.described      hlrm
search.picked           hlrm
tree.answered           hlrm
rover.sent              hlm
rover.arrived           hlrm
seal.removed            hlrm
seal.applied            hlrm
compartment.opened      hlrm
compartment.closed      hlrm
counter.read            hlrm
witness.named           hlrm
ballots.moved           hlrm
ballots.tallied         hlrm
device.swapped          hlrm
note.added              hlrm
picture.added           hlrm
decision.made           lm
voting.restored         hlrm
incident.closed         hlrm
incident.reopened       lm
incident.merged         hlm
call.handed             hlm
notice.sent             lm
notice.read             hlrm
action.stated           lm
event.corrected         hlrm
correction.asked        hlrm
correction.refused      lm
text.withheld           m
text.cleared            m
hold.placed             m
hold.lifted             m
place.ready             hlrm
place.opened            hlrm
place.closed            hlrm
materials.left          hlrm
materials.received      hlrm
place.reconciled        lm
shift.stated            hlrm
forms.issued            lm
form.accounted          hlm
log.received            ma
call.recorded           ma
shift.recorded          ma
election.recorded       ma
place.recorded          ma
device.recorded         ma
person.recorded         ma
exposure.recorded       ma
incident.imported       ma
"""
LETTERS = {"h": "hotline", "l": "lead", "r": "rover", "m": "manager", "a": "administrator"}


def test_the_table_is_the_agreed_one() -> None:
    agreed = {
        kind: frozenset(LETTERS[letter] for letter in letters)
        for kind, letters in (line.split() for line in AGREED.split("\n") if line)
    }
    assert agreed == ROLES_FOR


def test_every_kind_has_roles_and_every_role_exists() -> None:
    assert ROLES_FOR.keys() == KINDS.keys()
    assert frozenset().union(*ROLES_FOR.values()) <= ROLES.keys()
    assert not CORRECTS_OTHERS - ROLES.keys()


@pytest.mark.parametrize("role", ["author", "reader", "canvass"])
def test_who_looks_on_enters_nothing(role: str) -> None:
    assert not [kind for kind, roles in ROLES_FOR.items() if role in roles]
