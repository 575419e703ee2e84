"""The lists that authors learn from, put together from the record and from what was decided."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TypeVar

from flask import g

from kb.authoring import learning
from kb.authoring.fitness import is_rude, unfit
from kb.authoring.learning import Heard, Missed, Pick, key
from kb.authoring.learning_store import Act, ActName
from kb.incidents.incident import Incident, Walk
from kb.incidents.personal import looks_personal
from kb.people.roles import may
from kb.review.store import cases as read_cases
from kb.review.texts import fixes
from kb.triage.tree import Tree
from kb.web import walks
from kb.web.county import county

Said = TypeVar("Said", Heard, Missed)


@dataclass(frozen=True)
class Lists:
    """The three lists; `hidden` lines are not for this person's eyes."""

    missed: tuple[Missed, ...]
    offered: tuple[Heard, ...]
    led: Mapping[str, tuple[Heard, ...]]
    hidden: int


def cases() -> list[Incident]:
    """Every case of the county."""
    return read_cases(county().record)


def lists() -> Lists:
    """All that callers said, with what is offered to become a phrase."""
    store, stories = county().folder.learning, cases()
    found, asides, phrases = picks(stories), store.set_asides(), _phrases()
    accepted = [key(one) for said in store.accepted().values() for one in said]
    redacted = {
        case.id for case in stories if any("words" in one.withheld for one in case.timeline)
    }
    searches = [one for one in store.searches() if one.case not in redacted]
    missed = learning.found_nothing(searches, found, accepted, asides.get("", ()))
    led = learning.led_to(found)
    every = [one for heard in led.values() for one in heard]
    offered = learning.offered(every, phrases, asides)
    return Lists(
        missed=tuple(shown(missed)),
        offered=tuple(shown(offered)),
        led={slug: tuple(heard) for slug, said in led.items() if (heard := shown(said))},
        hidden=len(missed) + len(every) - len(shown(missed)) - len(shown(every)),
    )


def words_for(slug: str, found: Iterable[Pick]) -> list[Heard]:
    """The words that led to one article."""
    return shown(learning.led_to(found).get(slug, []))


def picks(cases: Iterable[Incident]) -> list[Pick]:
    """What was opened for which words: without personal words, retired articles by the new."""
    articles = county().library.articles
    return [
        replace(pick, slug=county().library.article(pick.slug).slug)
        for pick in fixes.picks(cases)
        if pick.slug in articles and not unfit(pick.words, looks_personal)
    ]


def shown(said: Iterable[Said]) -> list[Said]:
    """Those lines that this person may see: rude and accusing words are for authors alone."""
    return [one for one in said if _author() or not is_rude(one.words)]


def decided(slug: str, name: ActName) -> list[Act]:
    """The decisions of one kind that hold for an article (or, with no slug, for none)."""
    acts = [act for act in county().folder.learning.standing(name) if act.slug == slug]
    return [act for act in acts if _author() or not is_rude(act.phrase)]


def history(slug: str) -> list[Act]:
    """All that was ever decided for an article, the newest first."""
    acts = county().folder.learning.acts(slug)
    return [act for act in acts if _author() or not is_rude(act.phrase)]


def trees_of(walk: Walk) -> Mapping[str, Tree]:
    """The trees as they stand, but those that a walk has been in as they stood then."""
    kept = {given.tree: walks.text_of(given.tree, given.hash) for given in walk.history}
    return {**county().trees, **{slug: tree for slug, tree in kept.items() if tree is not None}}


def _author() -> bool:
    return may(g.session.account.roles, "edit the library")


def _phrases() -> dict[str, list[str]]:
    """The title and phrases of each article, in whatever language, accepted ones among them."""
    found: dict[str, list[str]] = {}
    for article in county().library.articles.values():
        if article.redirect is None:
            said = found.setdefault(article.translates or article.slug, [])
            said += [article.title, *article.phrases]
    for slug, accepted in county().folder.learning.accepted().items():
        found.get(slug, []).extend(accepted)
    return found
