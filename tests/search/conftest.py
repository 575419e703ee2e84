"""A small invented library: enough for every way of finding."""

import pytest

from kb.library.words import Equipment, Same, Words
from kb.search.documents import Document
from kb.search.index import Index

WORDS = Words(
    equipment=(Equipment("scanner", "Ballot scanner", ("tabulator",)),),
    same=(Same(("jam", "stuck"), ("jam", "stuck")),),
    spanish={"atascado": ("stuck",), "papel": ("paper",)},
    stop=("um", "the", "please"),
)


def document(slug, title, *phrases, equipment="scanner", phase=("voting",), **more):
    return Document(
        slug, more.pop("reports_as", slug), title, equipment, phase, phrases=phrases, **more
    )


DOCUMENTS = [
    document(
        "jam-at-entry",
        "Ballot stuck at the entry slot",
        "its jammed at the front",
        "paper wont go in",
        hear="The ballot hangs half out. The light is red.",
        do="Ask the voter to pull it back.",
        stop="Never open a sealed cover alone.",
        first_step="Note the counter.",
    ),
    document(
        "no-power", "Scanner shows no power", "its dead", "nothing lights up", phase=("opening",)
    ),
    document("code", "Scanner shows a code", "screen says E-104", "message in lane A"),
    document("seal", "Seal broken or missing", "tag is gone", equipment="security"),
    document("book-frozen", "Poll book is frozen", "tablet wont move", equipment="epollbook"),
    document("line", "Line of voters too long", "people out the door", equipment="site"),
]


@pytest.fixture(scope="session")
def index():
    return Index(DOCUMENTS, WORDS)
