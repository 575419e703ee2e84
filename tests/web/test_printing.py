"""Booklet and pocket cards: the chosen texts in order, and nothing that no rule allows."""

from __future__ import annotations

import re

from flask import Flask

from kb.authoring.sheet import Sheet
from kb.incidents.store.folder import Folder
from kb.library.article import Library
from tests.web.conftest import SignIn
from tests.web.test_worksheet_in_force import every_use, put_in_force, squeezed, visible


def prints(library: Library, slug: str, *, is_tree: bool) -> list[str]:
    """The addresses that print one text."""
    if is_tree:
        text = library.trees[slug].text
        code = re.search(r"^code: (\d+)$", text, re.MULTILINE)
        assert code
        return [f"/library/print/booklet?kind=tree&codes={code[1]}"]
    article = library.articles[slug]
    code_of = library.articles[article.translates or slug].code
    chosen = f"codes={code_of}&kind={article.kind}&language={article.language}"
    return [f"/library/print/booklet?{chosen}", f"/library/print/cards?{chosen}"]


def test_unanswered_no_conditional_text_is_printed_and_with_yes_each_is_in_the_booklet(
    sign_in: SignIn, app: Flask, folder: Folder, library: Library
) -> None:
    manager, found = sign_in("manager"), every_use(library)
    for use, passages in found.values():
        for address in prints(library, use.slug, is_tree=use.is_tree):
            page = squeezed(visible(manager.get(address)))
            assert not [text for text in passages if squeezed(text) in page], address
    put_in_force(app, folder, Sheet("now", dict.fromkeys(library.rules.questions, True)))
    for use, passages in found.values():
        address = prints(library, use.slug, is_tree=use.is_tree)[0]
        page = squeezed(visible(manager.get(address)))
        assert not [text for text in passages if squeezed(text) not in page], address


def test_texts_come_in_the_order_of_their_codes(sign_in: SignIn) -> None:
    page = sign_in("rover").get("/library/print/booklet?codes=201-204,101&kind=fault")
    contents = page.partition('class="contents"')[2].partition("</table>")[0]
    codes = re.findall(r'<td class="code">(\d{3})</td>', contents)
    assert codes[0] == "101"
    assert len(codes) > 3
    assert codes == sorted(codes)
    styles = re.search(r'href="([^"]*booklet\.css[^"]*)"', page)
    assert styles


def test_each_text_has_a_foot_of_its_own(sign_in: SignIn) -> None:
    rover = sign_in("rover")
    response = rover.client.get("/library/print/booklet.css?codes=201")
    assert response.mimetype == "text/css"
    feet = re.findall(r'content: "Card 201 · [^"]+ · version [0-9a-f]{8}"', response.text)
    assert len(feet) == 1


def test_a_choice_that_cannot_be_read_is_told_beside_the_form(sign_in: SignIn) -> None:
    page = sign_in("rover").get("/library/print/booklet?codes=abc", status=422)
    assert "&#39;abc&#39; is no short code" in page
    page = sign_in("rover").get("/library/print/cards?codes=999", status=422)
    assert "Nothing in the library fits this choice" in page


def test_a_card_says_its_number_its_stop_lines_and_the_first_step(
    sign_in: SignIn, library: Library
) -> None:
    article = library.articles["box-full"]
    page = visible(sign_in("rover").get(f"/library/print/cards?codes={article.code}"))
    for said in (article.code, article.title, article.stop, article.stop_es):
        assert said
        assert said in page
    assert "First: Ask the next voter" in page
