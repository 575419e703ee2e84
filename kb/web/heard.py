"""Keeping the searches that led nowhere, so that authors see what the library did not answer.

Only where the person moves on: never while they type.
"""

from __future__ import annotations

from flask import g

from kb.authoring.learning import Search, Why, other_words
from kb.base.clock import now
from kb.incidents.incident import Incident
from kb.people.roles import may
from kb.search.hits import Answer
from kb.web.county import county


def searched_again(before: Incident, words: str | None) -> None:
    """The caller's words were changed: if nothing was opened for the earlier ones, keep these."""
    earlier = before.words or ""
    opened = any(picked.words == earlier for picked in before.articles)
    if words and not opened and other_words(earlier, words):
        _keep(county().search(earlier, before.place, 1), "again", before.id)


def nothing_opened(incident: Incident, why: Why = "nothing") -> None:
    """A call goes on without an article: keep what was searched for."""
    if incident.words and not incident.articles and not incident.walks:
        _keep(county().search(incident.words, incident.place, 1), why, incident.id)


def in_library(answer: Answer) -> None:
    """A search of the library that fits nothing. Authors try words there, so theirs say nothing."""
    if not answer.fits and not may(g.session.account.roles, "edit the library"):
        _keep(answer, "nothing")


def _keep(answer: Answer, why: Why, case: str = "") -> None:
    first = answer.hits[0].slug if answer.hits else ""
    role = " ".join(sorted(g.session.account.roles))
    search = Search(answer.query, answer.fits, first, role, now(), case, why)
    county().folder.learning.keep_search(search)
