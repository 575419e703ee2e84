"""Static files go out packed, since a rover's line is thin.

Pages do not: one that holds a form token beside what somebody typed tells its token by its
packed length (the BREACH attack of 2013). A static file holds nothing secret.
"""

from __future__ import annotations

import gzip
import re
from functools import lru_cache

from flask import Response, request

_COMMENT_LINES = re.compile(rb"^[ \t]*(?://[^\n]*|/\*\*[^\n]*\*/)\n", re.MULTILINE)
# From this many bytes on it pays.
LEAST = 600
KINDS = ("text/css", "text/javascript", "application/javascript", "image/svg+xml")


def pack(response: Response) -> None:
    """Pack a static file's whole answer where the browser takes it."""
    plain = (response.content_length or 0) < LEAST or response.mimetype not in KINDS
    if plain or response.status_code != 200 or not request.accept_encodings["gzip"]:
        return
    response.direct_passthrough = False
    etag, _ = response.get_etag()
    response.set_data(
        _packed(response.get_data(), script=(response.mimetype or "").endswith("javascript"))
    )
    response.headers["Content-Encoding"] = "gzip"
    response.headers["Vary"] = "Accept-Encoding"
    if etag is not None:
        # The same file in other bytes: the tag says so by being a weak one (RFC 9110, 8.8.1).
        response.set_etag(etag, weak=True)


@lru_cache(maxsize=64)
def _packed(data: bytes, *, script: bool) -> bytes:
    # A script's comments are for who reads its source, not for a thin line.
    return gzip.compress(_COMMENT_LINES.sub(b"", data) if script else data, 9, mtime=0)
