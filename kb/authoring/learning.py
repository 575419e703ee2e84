"""What callers said and what became of it: the lists from which authors take new phrases.

The record and the searches that led nowhere come in as data. The same thing said in the same
words, whatever their order and endings, is one line.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Literal, TypeVar

from kb.search.text import stems

# Nothing fitted and nothing was opened; searched again with other words; logged as new.
Why = Literal["nothing", "again", "new"]
Key = frozenset[str]

# A phrase is one breath of a caller; longer tellings are kept but not offered.
LONGEST_PHRASE = 160
# From this share of common words on (of all words of both), two phrases say the same.
NEAR = 0.75


@dataclass(frozen=True)
class Search:
    """A search after which no article was opened for its words.

    `first` is the article that stood first ("" for none), `fits` whether the search said that
    it answers the words, `role` of who searched, `case` the incident ("" in the library).
    """

    words: str
    fits: bool
    first: str
    role: str
    at: datetime
    case: str = ""
    why: Why = "nothing"

    @property
    def missed(self) -> bool:
        """Whether the library has let somebody down, and not only gone unused."""
        return not self.fits or self.why != "nothing"


@dataclass(frozen=True)
class Pick:
    """An article opened for a caller's words.

    `fixed`: it was the one opened last, and the case ended with the fault mended.
    """

    words: str
    slug: str
    at: datetime
    fixed: bool
    case: str


K = TypeVar("K")
Said = TypeVar("Said", Search, Pick)


@dataclass(frozen=True)
class Heard:
    """What was said before an article was opened: how often, and how often that then helped."""

    slug: str
    words: str
    times: int
    fixed: int
    last: datetime


@dataclass(frozen=True)
class Missed:
    """What was said and found nothing. `opened`: the article that the same case came to, or ""."""

    words: str
    times: int
    last: datetime
    whys: frozenset[Why]
    first: str
    opened: str


def key(words: str) -> Key:
    """By what two sayings are the same: their stems."""
    return frozenset(stems(words))


def other_words(before: str, after: str) -> bool:
    """Whether a second search asks anew, and does not only go on typing or mend a letter."""
    first, second = key(before), key(after)
    return bool(first and second) and not (first <= second or near(first, [second]))


def near(said: Key, phrases: Iterable[Key]) -> bool:
    """Whether one of the phrases says nearly the same."""
    return any(len(said & one) >= NEAR * len(said | one) for one in phrases if one)


def found_nothing(
    searches: Iterable[Search],
    picks: Iterable[Pick],
    accepted: Collection[Key] = (),
    set_aside: Collection[Key] = (),
) -> list[Missed]:
    """The searches that found nothing, the most frequent first, without those dealt with."""
    opened = {pick.case: pick.slug for pick in sorted(picks, key=lambda pick: pick.at)}
    groups = _folded((one for one in searches if one.missed), lambda one: key(one.words))
    found = [
        Missed(
            words=_usual(one.words for one in group),
            times=len(group),
            last=group[-1].at,
            whys=frozenset(one.why for one in group),
            first=group[-1].first,
            opened=_usual(opened[one.case] for one in group if one.case in opened),
        )
        for said, group in groups.items()
        if said not in set_aside and not near(said, accepted)
    ]
    return sorted(found, key=lambda one: (-one.times, -one.last.timestamp(), one.words))


def led_to(picks: Iterable[Pick]) -> dict[str, list[Heard]]:
    """The words that led to each article, the most frequent first."""
    found: defaultdict[str, list[Heard]] = defaultdict(list)
    for (slug, _), group in _folded(picks, lambda pick: (pick.slug, key(pick.words))).items():
        fixed = sum(pick.fixed for pick in group)
        words = _usual(pick.words for pick in group)
        found[slug].append(Heard(slug, words, len(group), fixed, group[-1].at))
    return {slug: sorted(heard, key=_rank) for slug, heard in sorted(found.items())}


def offered(
    heard: Iterable[Heard],
    phrases: Mapping[str, Iterable[str]],
    set_aside: Mapping[str, Collection[Key]],
) -> list[Heard]:
    """Words that may become a phrase of the article that they led to, the surest first.

    `phrases` are those that each article has, its title and the accepted ones among them; words
    near one of these are no news. Of an article that is gone nothing is offered.
    """
    has = {slug: [key(phrase) for phrase in said] for slug, said in phrases.items()}
    found = [
        one
        for one in heard
        if one.slug in has
        and len(one.words) <= LONGEST_PHRASE
        and key(one.words) not in set_aside.get(one.slug, ())
        and not near(key(one.words), has[one.slug])
    ]
    return sorted(found, key=_rank)


def _rank(one: Heard) -> tuple[float, float, float, str]:
    return -one.fixed, -one.times, -one.last.timestamp(), one.words


def _usual(words: Iterable[str]) -> str:
    """The wording that was used most, of equals the latest; "" for none."""
    told = list(words)
    counts = Counter(told)
    return max(reversed(told), key=lambda one: counts[one], default="")


def _folded(items: Iterable[Said], by: Callable[[Said], K]) -> dict[K, list[Said]]:
    """Items of the same key together, each group in the order of time; without any word none."""
    groups: defaultdict[K, list[Said]] = defaultdict(list)
    for item in sorted(items, key=lambda item: item.at):
        if key(item.words):
            groups[by(item)].append(item)
    return dict(groups)
