"""What a rover's phone keeps for work without signal: the library, and the own stops.

The library's part is the same for all and changes seldom; it holds what the pages show, under
the county's answers and in the county's words, so an unanswered question hides on the phone
what it hides on a page.
"""

from __future__ import annotations

from flask import render_template

from kb.base.clock import format_instant, now
from kb.incidents import lists, rollcall
from kb.incidents.incident import Incident
from kb.incidents.places import Election
from kb.incidents.rows import Row
from kb.library.article import Article
from kb.library.render import render
from kb.people.accounts import Account
from kb.triage.tree import Step, Tree
from kb.web import stopforms
from kb.web.county import County, county
from kb.web.ends import VOTING_WORDS
from kb.web.shown import clock, equipment_name, own, own_html, word
from kb.web.telling import step_heading


def library(of: County) -> dict[str, object]:
    """All texts, as the pages show them; links lead to `#slug`."""
    return {
        "articles": {
            slug: _article(of, article)
            for slug, article in of.library.articles.items()
            if not article.redirect
        },
        "trees": {slug: _tree(tree) for slug, tree in of.trees.items()},
        "voting": {name: own(words) for name, words in VOTING_WORDS.items()},
        "questions": {one: own(text) for one, text in of.library.rules.questions.items()},
    }


def _article(of: County, article: Article) -> dict[str, object]:
    rendered = render(article, of.answers, lambda other: f"#{other}")
    return {
        "title": own(article.title) if article.language == "en" else article.title,
        "code": article.code or "",
        "stop": own(article.stop) if article.language == "en" else article.stop,
        "stop_es": article.stop_es or "",
        "language": article.language,
        "equipment": equipment_name(article.equipment),
        "phrases": list(article.phrases),
        "tree": article.tree or "",
        "html": str(own_html(rendered.html, article.language)),
        "unset": list(rendered.unset),
    }


def _tree(tree: Tree) -> dict[str, object]:
    return {
        "title": own(tree.title),
        "code": tree.code or "",
        "stop": own(tree.stop),
        "stop_es": tree.stop_es,
        "hash": tree.hash,
        "phrases": list(tree.phrases),
        "intro": str(own_html(tree.intro_html)),
        "first": tree.first,
        "steps": {name: _step(step) for name, step in tree.steps.items()},
        "unset": list(tree.unset),
    }


def _step(step: Step) -> dict[str, object]:
    return {
        "kind": step.kind,
        "heading": own(step.heading),
        "help": str(own_html(step.help_html)),
        "voting": step.voting or "",
        # The label is what the record keeps; what is shown may have the county's own word in it.
        "branches": [
            [one.label, own(one.label), one.target_tree, one.target_step] for one in step.branches
        ],
    }


def stops(election: Election | None, person: Account, token: str) -> dict[str, object]:
    """One's own stops, open and done, and what their forms offer."""
    rows = county().record.incidents(election.id, rover=person.login) if election else []
    return {
        "login": person.login,
        "name": person.name,
        "token": token,
        "at": format_instant(now()),
        "election": {"id": election.id, "name": election.name} if election else None,
        "zone": election.time_zone if election else "UTC",
        "hotline": county().settings.hotline,
        "choices": _choices(),
        "pictures": county().allows_pictures,
        "spares": [
            {"asset": one.asset, "name": equipment_name(one.equipment)}
            for one in county().record.devices()
            if one.spare and one.place is None
        ],
        "stops": [_stop(row, election) for row in rows] if election else [],
    }


def _choices() -> dict[str, object]:
    def words(ids: tuple[str, ...]) -> list[list[str]]:
        return [[one, word(one) if one in lists.SHOWN else own(one)] for one in ids]

    return {
        "compartments": words(stopforms.COMPARTMENTS),
        "seal_states": words(stopforms.SEAL_STATES),
        "witness_roles": words(stopforms.WITNESS_ROLES),
        "confirmed_by": words(stopforms.CONFIRMED_BY),
        "where_ballots": words(stopforms.WHERE_BALLOTS),
        "moments": words(stopforms.MOMENTS),
        "memory": words(stopforms.MEMORY),
        "outcomes": words(stopforms.ON_SITE_OUTCOMES),
        "restoring": sorted(stopforms.RESTORING),
    }


def _stop(row: Row, election: Election) -> dict[str, object]:
    record = county().record
    incident = record.incident(row.id) or Incident()
    place = record.place(row.place) if row.place else None
    articles = [pick.slug for pick in incident.articles if pick.slug in county().library.articles]
    trees = [walk.tree for walk in incident.walks]
    trees += [county().library.article(slug).tree or "" for slug in articles]
    sent = [entry for entry in incident.timeline if entry.kind == "rover.sent"]
    return {
        "id": row.id,
        "number": row.number,
        "place": {
            "id": place.id, "name": place.name, "address": place.address, "phone": place.phone,
        } if place else None,
        "effect": row.effect or "unknown",
        "effect_word": word(row.effect),
        "priority": row.priority,
        "what": f"{equipment_name(row.equipment)}: {word(row.symptom)}"
        if row.equipment or row.symptom
        else "",
        "asset": row.asset or "",
        "words": row.words or "",
        "next": rollcall.next_answer(
            election, place, record.marks(election.id, place.id).get(place.id, {}), now()
        )
        if place
        else None,
        "flags": [word(flag) for flag in sorted(row.flags)],
        "reported": clock(row.reported),
        "reason": str(sent[-1].body.get("reason", "")) if sent else "",
        "closed": row.status != "open",
        "outcome": word(row.outcome) if row.outcome else "",
        "there": row.rover_there,
        "articles": list(dict.fromkeys(articles)),
        "trees": [slug for slug in dict.fromkeys(trees) if slug in county().trees],
        "answers": {walk.id: [list(one) for one in walk.answers] for walk in incident.walks},
        "tried": [
            [step_heading(given.tree, given.hash, given.step), own(given.answer)]
            for walk in incident.walks
            for given in walk.history
            if (given.tree, given.step, given.answer) in walk.answers
        ]
        + [[note.text, ""] for note in incident.notes],
        "devices": [
            {"asset": one.asset, "name": equipment_name(one.equipment), "seals": list(one.seals)}
            for one in (record.devices(row.place) if row.place else [])
        ],
        "seals_off": [seal.number for seal in incident.seals_off],
        "seals_on": [seal.number for seal in incident.seals_on],
        # The page's own list of what was written down.
        "written": render_template("written.html", incident=incident),
    }  # fmt: skip
