"""Checkpoints against the example of C2SP tlog-checkpoint."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.base.errors import InputError
from kb.incidents.checkpoint import Checkpoint, origin, parse

# C2SP tlog-checkpoint, the example at its head (github.com/C2SP/C2SP, tlog-checkpoint.md, CC BY
# 4.0), without its signature: the verifier key to it is not published there.
C2SP_TEXT = "example.com/behind-the-sofa\n20852163\nCsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=\n"
ROOT = "CsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I="


def test_the_example_of_c2sp() -> None:
    read = parse(C2SP_TEXT)
    assert (read.origin, read.size) == ("example.com/behind-the-sofa", 20852163)
    assert read.root.hex().startswith("0ac5186a9186")
    assert read.text() == C2SP_TEXT


@given(st.integers(0, 2**63), st.binary(min_size=32, max_size=32))
def test_what_is_written_is_read_again(size: int, root: bytes) -> None:
    made = Checkpoint("our-county.latchbook/county", size, root)
    assert parse(made.text()) == made


def test_extension_lines_are_passed_over() -> None:
    assert parse(C2SP_TEXT + "more\n") == parse(C2SP_TEXT)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "a\n1\n",
        f"a\n01\n{ROOT}\n",
        f"a\n-1\n{ROOT}\n",
        f"a\n1.0\n{ROOT}\n",
        f"a\n\N{SUPERSCRIPT TWO}\n{ROOT}\n",
        f"\n1\n{ROOT}\n",
        f"a\n1\n{ROOT}",
        f"a\n1\n{ROOT[:-1]}\n",
        f"a\n1\n{ROOT[:-2]}J=\n",
        "a\n1\nAAAA\n",
        f"a\n1\n{ROOT}\n\nmore\n",
    ],
)
def test_what_is_no_checkpoint_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        parse(text)


def test_each_log_has_an_origin_of_its_own() -> None:
    name = "our-county.latchbook"
    logs = ["", "county", "elections", "e26", "e26/x", "e26%2Fx", "e 26", "e+26", "wähl"]
    origins = [origin(name, log) for log in logs]
    assert len(set(origins)) == len(logs)
    assert origins[0] == "our-county.latchbook/county"
    assert origins[3] == "our-county.latchbook/elections/e26"
    assert not any(" " in one or "+" in one for one in origins)
