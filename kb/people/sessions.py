"""A signed-in browser, as the rest of the program sees it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from kb.people.accounts import Account


@dataclass(frozen=True)
class Session:
    """Whose it is, the token its forms must carry, when it began, and until when it lasts.

    The form token belongs to the account and changes with its password: a form typed before a
    session ran out can be sent after signing in again. `whole`: the second factor was given, or
    is not asked of this account.
    """

    account: Account
    csrf: str
    began: datetime
    seen: datetime
    expires: datetime
    device: str
    whole: bool
    mark: str


def device_of(agent: str) -> str:
    """A short name for a browser, from what it says of itself; for the person, not for us."""
    kinds = (("Android", "Android"), ("iPhone", "iPhone"), ("iPad", "iPad"), ("Windows", "Windows"),
             ("Mac OS", "Mac"), ("Linux", "Linux"))  # fmt: skip
    browsers = (("Firefox", "Firefox"), ("Edg", "Edge"), ("Chrome", "Chrome"), ("Safari", "Safari"))
    where = next((name for sign, name in kinds if sign in agent), "")
    what = next((name for sign, name in browsers if sign in agent), "")
    return " on ".join(part for part in (what, where) if part) or "unknown device"
