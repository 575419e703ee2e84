"""A small sample of the replay: its calls are never the same twice, and a run leaves nothing."""

from __future__ import annotations

import random
from pathlib import Path

from kb.library import store
from kb.search.queries import Query
from kb.triage.documents import documents
from tests.benchmarks.replay import KINDS, Author, Replay, Said, day, otherwise, table

GOOD = store.load(Path(__file__).parent.parent / "fixtures" / "library_good")[0]
ODD = "zorple wibbles quonk frizzle gronk dax"
CALLS = [
    Query(ODD, {"paper-stuck": 2}),
    Query("cord came out of the wall by the stage", {"cord-loose": 2}),
]


def test_no_two_calls_of_a_day_have_the_same_words() -> None:
    calls = day(CALLS, 40, random.Random(1))
    assert len({call.words for call in calls}) == len(calls) == 40
    assert {call.source for call in calls} == {call.text for call in CALLS}
    assert day(CALLS, 40, random.Random(1)) == calls


def test_a_call_said_otherwise_keeps_at_least_three_words() -> None:
    chance = random.Random(2)
    said = [otherwise(ODD, chance).split() for _ in range(200)]
    assert min(map(len, said)) == 3
    assert max(map(len, said)) == 6


def test_accepted_words_help_those_nearly_the_same_and_the_next_run_forgets_them() -> None:
    replay = Replay(documents(GOOD, {}, {}), GOOD.words, None)
    calls = [
        Said(ODD, "opening-list", "a"),
        Said("wibbles quonk frizzle gronk", "opening-list", "a"),
        Said("shmorgle fnord", "opening-list", "b"),
    ]
    runs = [list(replay.run(calls, Author(1.0), seed)) for seed in (1, 2)]
    assert runs[0] == runs[1]
    assert [call.kind for call in runs[0]] == [KINDS[0], KINDS[2], KINDS[1]]
    assert [call.learned for call in runs[0]][:2] == [False, True]
    assert not runs[0][1].plain
    assert list(table(runs, 2))[2].startswith("| 1-2 | 4 |")


def test_an_author_who_works_in_the_evening_helps_the_next_day_only() -> None:
    replay = Replay(documents(GOOD, {}, {}), GOOD.words, None)
    calls = [Said(ODD, "opening-list", "a")] * 4
    taken = list(replay.run(calls, Author(1.0, every=3), 1))
    assert [call.learned for call in taken] == [False, False, False, True]
