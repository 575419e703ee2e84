"""Ids and secrets. Random ones only: nothing about a person or a place leaks into them."""

from __future__ import annotations

import hashlib
import secrets
import uuid


def new_id() -> str:
    """A random UUID (version 4), the id of an event or of a draft."""
    return str(uuid.uuid4())


def new_token() -> str:
    """256 random bits, for sessions, forms and one-time links."""
    return secrets.token_urlsafe(32)


def fingerprint(text: str) -> str:
    """SHA-256 in hex: what is stored of a token, and the hash of a text's version."""
    return hashlib.sha256(text.encode()).hexdigest()
