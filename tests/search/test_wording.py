from kb.library.words import Same, Words
from kb.search.wording import SAME, TRANSLATED, Wording

WORDING = Wording(
    Words(
        same=(
            Same(("jam", "stuck", "won't go in"), ("jam", "stuck", "won't go in")),
            Same(("tabulator",), ("scanner",)),
        ),
        spanish={"sello": ("seal",), "no prende": ("dead",)},
        stop=("um", "you know", "the", "no", "not", "on", "off", "out", "up", "a"),
    )
)


def test_a_group_of_equals_works_both_ways():
    assert dict(WORDING.meanings(["jam"]))["stuck"] == SAME
    assert dict(WORDING.meanings(["stuck"]))["jam"] == SAME


def test_a_group_with_a_direction_works_one_way():
    assert WORDING.meanings(["tabul"]) == (("scanner", SAME),)
    assert WORDING.meanings(["scanner"]) == ()


def test_an_entry_of_several_words_shares_its_weight():
    assert dict(WORDING.meanings(["jam"]))["go"] == SAME / 3


def test_a_run_of_words_is_found_however_it_is_negated():
    stems = ["it", "not", "go", "in", "now"]
    assert WORDING.runs(stems) == [(1, 4)]
    assert dict(WORDING.meanings(stems[1:4]))["jam"] == SAME


def test_spanish_stands_for_english_almost_fully():
    assert WORDING.meanings(["sello"]) == (("seal", TRANSLATED),)


def test_filler_is_dropped_but_never_the_words_that_turn_a_fault_around():
    said = ["um", "you", "know", "the", "scanner", "no", "not", "on", "off", "out", "up", "a"]
    assert [said[at] for at in WORDING.without_filler(said)] == said[4:]


def test_a_call_of_filler_alone_is_kept():
    assert WORDING.without_filler(["um", "the"]) == [0, 1]
