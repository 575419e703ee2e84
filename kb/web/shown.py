"""How values look on a page: times in the election's zone, ids as words, shapes for effects."""

from __future__ import annotations

from datetime import datetime, timedelta

import segno
from flask import Flask, g
from jinja2 import pass_context
from jinja2.runtime import Context
from markupsafe import Markup

from kb import __version__
from kb.base.clock import local, now
from kb.base.ids import new_id
from kb.incidents import lists
from kb.people.roles import ROLES, may
from kb.web.county import county

NAVIGATION = (
    ("take calls", "calls.board", "Calls"),
    ("work a stop", "rounds.stops", "Rounds"),
    ("watch the day", "now.board", "Now"),
    ("read incidents", "incidents.register", "Incidents"),
    ("read the library", "library.browse", "Library"),
    ("review", "review.board", "Review"),
    ("see the office", "office.board", "Office"),
)


def zone() -> str:
    """The time zone of the election at hand; UTC where there is none yet."""
    if "zone" not in g:
        election = county().election(now())
        g.zone = election.time_zone if election else "UTC"
    return str(g.zone)


def clock(instant: datetime | None) -> str:
    """10:42 on the election's wall clock."""
    return f"{local(instant, zone()):%H:%M}" if instant else ""


def stamp(instant: datetime | None) -> str:
    """Tue 3 Nov 2026, 10:42 on the election's wall clock."""
    if instant is None:
        return ""
    there = local(instant, zone())
    return f"{there:%a} {there.day} {there:%b %Y, %H:%M}"


def zone_name() -> str:
    """The zone as a reader knows it: EST, or UTC-05."""
    name = f"{local(now(), zone()):%Z}"
    return f"UTC{name}" if name.startswith(("+", "-")) else name


def ago(instant: datetime | None) -> str:
    """How long it has been: 4 min, 2 h 05."""
    return span(now() - instant) if instant else ""


def span(length: timedelta) -> str:
    """A length of time in the words of a busy desk."""
    minutes = max(0, round(length.total_seconds() / 60))
    return f"{minutes} min" if minutes < 60 else f"{minutes // 60} h {minutes % 60:02d}"


def equipment_name(identifier: str | None) -> str:
    """The name of an equipment class."""
    if not identifier:
        return "(unknown)"
    names = {item.id: item.name for item in county().library.words.equipment}
    return names.get(identifier, identifier)


def word(identifier: str | None) -> str:
    """The shown word of an outcome, effect, flag, symptom, phase or cause."""
    if not identifier:
        return "(unknown)"
    return own(lists.SHOWN.get(identifier, identifier.replace("-", " ")))


def article_title(slug: str) -> str:
    """An article's title; the slug of one that is gone."""
    article = county().library.articles.get(slug)
    return own(article.title) if article else slug


def own(text: str) -> str:
    """A text of the library or the program with the county's own words in it."""
    return county().own_words.text(text)


@pass_context
def _own(_: Context, text: str) -> str:
    """The filter. With the context, since without one Jinja works out a constant only once."""
    return own(text)


def own_html(rendered: str, language: str = "en") -> Markup:
    """HTML rendered from a text of the library, with the county's own words in it.

    They are English, so a text in another language stays as it is.
    """
    return Markup(county().own_words.html(rendered) if language == "en" else rendered)  # noqa: S704 - rendered with raw HTML off


def person_name(login: str) -> str:
    """A person's name; the login where there is no account, as in imports."""
    if "names" not in g:
        g.names = {account.login: account.name for account in county().people.all()}
    return str(g.names.get(login, login))


def rule_question(rule: str) -> str:
    """The worksheet's question for a local rule."""
    return own(county().library.rules.questions.get(rule, rule))


def register(app: Flask) -> None:
    """Give the templates these filters and what every page needs."""
    for view in (
        clock,
        stamp,
        ago,
        span,
        equipment_name,
        word,
        article_title,
        own_html,
        person_name,
        rule_question,
    ):
        app.add_template_filter(view)
    app.add_template_filter(_own, "own")

    @app.context_processor
    def common() -> dict[str, object]:
        session = g.get("session")
        roles = session.account.roles if session else frozenset()
        return {
            "county": county().settings.county,
            "hotline": county().settings.hotline,
            "session": session,
            "may": lambda permission: may(roles, permission),
            "navigation": [item[1:] for item in NAVIGATION if may(roles, item[0])],
            "role_names": {role: own(name) for role, name in ROLES.items()},
            "new_id": new_id,
            "zone_name": zone_name,
            "version": __version__,
            "lists": lists,
        }


def qr(text: str) -> Markup:
    """A text as a QR code that stands in the page itself: no address ever carries a secret.

    Dark on light in any colour scheme, since not every reader takes the reverse; its size is the
    style sheet's.
    """
    drawn = segno.make(text, error="m").svg_inline(border=4, light="#fff", omitsize=True)
    return Markup(drawn)  # noqa: S704 - drawn by segno
