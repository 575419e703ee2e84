"""Sign-in and sessions against the requirements of OWASP ASVS 5.0.0 that DEVELOPERS.md lists.

Each test names the requirement that it shows. The texts of chapters V6 and V7 were read as OWASP
publishes them (0x15-V6-Authentication.md, 0x16-V7-Session-Management.md).
"""

from __future__ import annotations

import base64
import math
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from threading import Barrier

import pyotp
import pytest
from argon2 import PasswordHasher

from kb.base.database import Store
from kb.base.errors import InputError
from kb.people import codes, tries
from kb.people import store as store_module
from kb.people.accounts import Account
from kb.people.passwords import hash_password, matches
from kb.people.sessions import device_of
from kb.people.store import People, migrations
from kb.people.traces import Refusal, network_of

NOON = datetime(2026, 11, 3, 12, tzinfo=UTC)
GOOD = "four unrelated words here"
WREN = Account("wren", "Wren Tallow", frozenset({"manager"}))
HEAD = Account("head", "Odd Marsh", frozenset({"administrator"}))


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = Store(tmp_path / "people.db")
    opened.write(migrations.apply)
    yield opened
    opened.close()


@pytest.fixture
def people(store: Store) -> People:
    found = People(store)
    found.put(WREN, HEAD)
    found.set_password("wren", GOOD)
    return found


def token_of(people: People, at: datetime = NOON, *, factor: bool = False) -> str:
    made = people.sign_in("wren", GOOD, at, 16, second_factor=factor)
    assert made
    return made.token


@pytest.mark.parametrize("password", ["short", "elevensigns"])
def test_a_password_has_twelve_signs_at_least(password: str) -> None:
    """ASVS 6.2.1."""
    with pytest.raises(InputError, match="Use at least 12"):
        hash_password(password)


@pytest.mark.parametrize(
    "password", ["password1234", "123456789012", "qwertyuiop12", "aaaaaaaaaaaa"]
)
def test_a_common_password_is_refused(password: str) -> None:
    """ASVS 6.2.4. The lists are those of zxcvbn."""
    with pytest.raises(InputError, match="easily guessed"):
        hash_password(password)


def test_no_mixture_of_signs_is_asked_for() -> None:
    """ASVS 6.2.5."""
    assert matches(hash_password("only small words and spaces"), "only small words and spaces")


def test_a_password_is_compared_whole_and_as_it_was_typed() -> None:
    """ASVS 6.2.8."""
    stored = hash_password(" Mixed Case, and spaces ")
    assert matches(stored, " Mixed Case, and spaces ")
    assert not matches(stored, "Mixed Case, and spaces")
    assert not matches(stored, " mixed case, and spaces ")
    long = "four unrelated words " * 12
    assert not matches(hash_password(long), long + "x" * 40)


def test_a_long_password_is_taken() -> None:
    """ASVS 6.2.9: at least 64 signs."""
    long = "a kettle and a plover " * 10
    assert len(long) > 64
    assert matches(hash_password(long), long)
    with pytest.raises(InputError, match="256 are the most"):
        hash_password("x" * 300)


@pytest.mark.parametrize("password", ["tamarisk-county", "wren.tallow.1", "latchbook2026"])
def test_words_that_stand_near_are_refused(password: str) -> None:
    """ASVS 6.2.11: the county, the person, the program."""
    with pytest.raises(InputError, match="easily guessed"):
        hash_password(password, ("Tamarisk County", "wren", "Wren Tallow"))


def test_ten_wrong_tries_stop_one_address_and_not_the_person(people: People) -> None:
    """ASVS 6.3.1: guessing is stopped, and nobody is locked out by somebody else."""
    for second in range(tries.PAIR.most):
        at = NOON + timedelta(seconds=second)
        assert people.traces.free_again("wren", "192.0.2.1", at) is None
        people.traces.count_try("wren", "192.0.2.1", at)
    soon = NOON + timedelta(minutes=1)
    free = people.traces.free_again("wren", "192.0.2.1", soon)
    assert free == NOON + tries.PAIR.window
    assert people.traces.free_again("wren", "192.0.2.2", soon) is None
    assert people.traces.free_again("wren", "192.0.2.1", NOON + tries.PAIR.window) is None


def test_one_address_cannot_try_many_logins(people: People) -> None:
    """ASVS 6.3.1."""
    for number in range(tries.ADDRESS.most):
        people.traces.count_try(f"guess{number}", "192.0.2.1", NOON)
    assert people.traces.free_again("wren", "192.0.2.1", NOON + timedelta(minutes=1))
    assert people.traces.free_again("wren", "192.0.2.2", NOON + timedelta(minutes=1)) is None


def test_nobody_outside_keeps_out_who_signed_in_here_before(people: People) -> None:
    """ASVS 6.1.1: the wide limits do not hold where this login signed in well before."""
    people.traces.went_well("wren", "192.0.2.1", NOON - timedelta(days=1))
    for number in range(tries.LOGIN.most):
        people.traces.count_try("wren", f"198.51.100.{number}", NOON)
    for number in range(tries.ADDRESS.most):
        people.traces.count_try(f"guess{number}", "192.0.2.1", NOON)
    soon = NOON + timedelta(minutes=1)
    assert people.traces.free_again("wren", "192.0.2.1", soon) is None
    assert people.traces.free_again("wren", "192.0.2.2", soon) == NOON + tries.LOGIN.window
    assert people.traces.free_again("head", "192.0.2.1", soon) == NOON + tries.ADDRESS.window
    # What is known does not stay for ever, and its own ten tries are counted all the same.
    late = NOON + tries.KNOWN
    assert people.traces.free_again("wren", "192.0.2.1", late) is None
    for _ in range(tries.ADDRESS.most):
        people.traces.count_try("guess", "192.0.2.1", late)
    assert people.traces.free_again("wren", "192.0.2.1", late)


@pytest.mark.parametrize("made_up", ["wren code", "wren change", "wren code 192.0.2.1", 'wren", "'])
def test_no_login_that_somebody_makes_up_reaches_another_ones_tries(
    people: People, made_up: str
) -> None:
    """ASVS 6.1.1: not the second step's either, which are counted under "code"."""
    for _ in range(tries.PAIR.most):
        people.traces.count_try(made_up, "192.0.2.1", NOON)
    assert people.traces.free_again(made_up, "192.0.2.1", NOON)
    for address in ("code 192.0.2.1", "change 192.0.2.1", "192.0.2.1", ""):
        assert people.traces.free_again("wren", address, NOON) is None


def test_names_of_tries_are_never_the_same_for_other_parts() -> None:
    parts = ("", " ", "wren", "wren code", "code 192.0.2.1", "192.0.2.1", "pair", '"', "\\")
    pairs = [(login, address) for login in parts for address in parts]
    assert len({tries.pair(*one) for one in pairs}) == len(pairs)
    names = {name for one in pairs for name in tries.keys(*one)}
    assert len(names) == len(pairs) + 2 * len(parts)


def test_a_whole_network_of_the_newer_kind_counts_as_one_address() -> None:
    """ASVS 6.3.1: who is given 64 bits of IPv6 addresses has no more tries for it."""
    assert tries.source("2001:db8::1") == tries.source("2001:db8::ffff:1")
    assert tries.source("2001:db8::1") != tries.source("2001:db8:0:1::1")
    assert tries.source("192.0.2.1") != tries.source("192.0.2.2")


def test_like_refusals_of_an_hour_are_one_row(people: People) -> None:
    for minute in (0, 10, 59, 60):
        at = NOON + timedelta(minutes=minute)
        people.traces.refuse(Refusal(at, "wren", "192.0.2.0/24", "wrong code", "/x"))
    people.traces.refuse(Refusal(NOON, "my password", "192.0.2.0/24", "wrong code", "/x"))
    told = [(one.login, one.at.hour, one.times) for one in people.traces.refusals()]
    assert told == [("wren", 13, 1), ("wren", 12, 3), ("-", 12, 1)]


def test_refusals_go_after_ninety_days(people: People) -> None:
    for at in (NOON, NOON + timedelta(days=91)):
        people.traces.refuse(Refusal(at, "wren", "", "wrong code", "/x"))
    assert len(people.traces.refusals()) == 1


def test_there_is_no_account_with_a_known_password(people: People) -> None:
    """ASVS 6.3.2: accounts begin without a password."""
    assert not people.has_password("head")
    assert people.sign_in("head", "", NOON, 8) is None


def test_managers_and_administrators_need_a_second_factor(people: People) -> None:
    """ASVS 6.3.3."""
    made = people.sign_in("wren", GOOD, NOON, 16, second_factor=True)
    assert made
    assert not made.whole
    session = people.session(made.token, NOON)
    assert session
    assert not session.whole
    # What is not whole does not last.
    assert people.session(made.token, NOON + timedelta(minutes=11)) is None


def test_a_first_password_is_chosen_by_a_link_that_runs_out(people: People) -> None:
    """ASVS 6.4.1."""
    first = people.make_link("wren", NOON)
    second = people.make_link("wren", NOON)
    assert people.link_login(first, NOON) is None
    assert people.link_login(second, NOON + timedelta(hours=47)) == "wren"
    assert people.link_login(second, NOON + timedelta(hours=48)) is None


def test_a_link_works_once_also_where_two_use_it_at_one_instant(
    people: People, monkeypatch: pytest.MonkeyPatch
) -> None:
    """ASVS 6.4.1."""
    token, both = people.make_link("wren", NOON), Barrier(2)

    def slowly(password: str, near: Sequence[str] = ()) -> str:
        both.wait(10)
        return hash_password(password, near)

    monkeypatch.setattr(store_module, "hash_password", slowly)
    chosen = ("quilt marmot tangent ozone", "velvet pylon crumb sextant")
    with ThreadPoolExecutor(2) as pool:
        used = list(pool.map(lambda one: people.use_link(token, one, NOON), chosen))
    assert sorted(used, key=str) == [None, "wren"]
    fit = [one for one in chosen if people.sign_in("wren", one, NOON, 8)]
    assert fit == [chosen[used.index("wren")]]
    assert people.link_login(token, NOON) is None


def test_a_password_that_will_not_do_leaves_the_link(people: People) -> None:
    token = people.make_link("wren", NOON)
    with pytest.raises(InputError, match="Use at least 12"):
        people.use_link(token, "short", NOON)
    assert people.use_link(token, "velvet pylon crumb sextant", NOON + timedelta(days=2)) is None
    assert people.use_link(token, "velvet pylon crumb sextant", NOON) == "wren"
    assert people.use_link(token, "quilt marmot tangent ozone", NOON) is None


# RFC 6238, appendix B: the secret is the ASCII text of twenty digits; SHA-1, the last six of the
# eight digits that the table gives.
RFC_6238_SECRET = base64.b32encode(b"12345678901234567890").decode()


@pytest.mark.parametrize(
    ("seconds", "code"),
    [
        (59, "287082"),
        (1111111109, "081804"),
        (1111111111, "050471"),
        (1234567890, "005924"),
        (2000000000, "279037"),
        (20000000000, "353130"),
    ],
)
def test_codes_are_those_of_rfc_6238(seconds: int, code: str) -> None:
    """ASVS 6.5.5: a code holds for its time step, one before and one after."""
    at = datetime.fromtimestamp(seconds, UTC)
    assert codes.step_of(RFC_6238_SECRET, code, at, 0) == seconds // 30
    assert codes.step_of(RFC_6238_SECRET, f"{code[:3]} {code[3:]}", at + timedelta(seconds=30), 0)
    assert codes.step_of(RFC_6238_SECRET, code, at + timedelta(seconds=90), 0) is None


def test_a_code_is_taken_once(people: People) -> None:
    """ASVS 6.5.1."""
    secret = codes.new_secret()
    code = pyotp.TOTP(secret).at(NOON)
    assert (
        people.factors.set_up("wren", secret, "000000" if code != "000000" else "111111", NOON)
        is None
    )
    fresh = people.factors.set_up("wren", secret, code, NOON)
    assert fresh
    session = people.session(token_of(people, factor=True), NOON)
    assert session
    assert people.factors.give_code(session, code, NOON, 16) is None
    later = NOON + timedelta(seconds=30)
    token = people.factors.give_code(session, pyotp.TOTP(secret).at(later), later, 16)
    assert token
    whole = people.session(token, later)
    assert whole
    assert whole.whole


def test_a_recovery_code_is_taken_once_and_stored_as_a_hash(people: People, store: Store) -> None:
    """ASVS 6.5.1."""
    secret = codes.new_secret()
    fresh = people.factors.set_up("wren", secret, pyotp.TOTP(secret).at(NOON), NOON)
    assert fresh
    assert len(set(fresh)) == codes.RECOVERY_CODES
    held = str(list(store.read().table("recovery_codes").rows))
    assert not any(code in held for code in fresh)
    for expected in (True, False):
        session = people.session(token_of(people, factor=True), NOON)
        assert session
        given = people.factors.give_code(session, fresh[0].upper(), NOON, 16)
        assert bool(given) is expected
    assert people.factors.codes_left("wren") == codes.RECOVERY_CODES - 1


def test_recovery_codes_are_random_and_long_enough_for_a_plain_hash() -> None:
    """ASVS 6.5.2, 6.5.3, 6.5.4: 112 bits and more, from the system's generator."""
    drawn = {code for _ in range(20) for code in codes.new_recovery_codes()}
    assert len(drawn) == 20 * codes.RECOVERY_CODES
    signs = set("".join(drawn)) - {"-"}
    # What a code carries at most by the signs that occur: so many draws show all of them.
    assert len(min(drawn, key=len).replace("-", "")) * math.log2(len(signs)) >= 112


@pytest.mark.parametrize("code", ["", "１２３４５６", "12345", "+12345", "abcdef", "\0", "🎉"])
def test_what_is_no_code_fits_nothing(code: str) -> None:
    assert codes.step_of(RFC_6238_SECRET, code, NOON, 0) is None


@pytest.mark.parametrize("secret", ["", "A", "not base32 !", "a" * 32, "A" * 31])
def test_what_is_no_secret_is_not_set_up(people: People, secret: str) -> None:
    """ASVS 6.5.3: a key has 160 bits; no shorter one is taken from the form."""
    assert people.factors.set_up("wren", secret, "123456", NOON) is None
    assert people.factors.secret("wren") is None


def test_a_second_factor_is_not_replaced_by_who_comes_second(people: People) -> None:
    """ASVS 6.5.6: only taking it off makes room for another."""
    first, second = codes.new_secret(), codes.new_secret()
    assert people.factors.set_up("wren", first, pyotp.TOTP(first).at(NOON), NOON)
    assert people.factors.set_up("wren", second, pyotp.TOTP(second).at(NOON), NOON) is None
    assert people.factors.secret("wren") == first
    people.factors.take_off("wren", "head", "phone lost")
    assert people.factors.set_up("wren", second, pyotp.TOTP(second).at(NOON), NOON)


def test_a_new_password_by_link_leaves_the_second_factor_asked_for(people: People) -> None:
    """ASVS 6.4.3."""
    secret = codes.new_secret()
    people.factors.set_up("wren", secret, pyotp.TOTP(secret).at(NOON), NOON)
    people.make_link("wren", NOON)
    people.set_password("wren", "seven green kettles abroad")
    made = people.sign_in("wren", "seven green kettles abroad", NOON, 16, second_factor=True)
    assert made
    assert not made.whole
    assert people.factors.secret("wren") == secret


def test_a_session_token_is_random_and_long(people: People) -> None:
    """ASVS 7.2.3: 256 bits from the system's generator."""
    tokens = {token_of(people) for _ in range(20)}
    assert len(tokens) == 20
    assert all(len(base64.urlsafe_b64decode(token + "==")) == 32 for token in tokens)


def test_a_new_token_when_what_it_opens_changes(people: People) -> None:
    """ASVS 7.2.4: the token of before the second factor ends."""
    secret = codes.new_secret()
    assert people.factors.set_up("wren", secret, pyotp.TOTP(secret).at(NOON), NOON)
    before = token_of(people, factor=True)
    session = people.session(before, NOON)
    assert session
    later = NOON + timedelta(minutes=1)
    after = people.factors.give_code(session, pyotp.TOTP(secret).at(later), later, 16)
    assert after
    assert after != before
    assert people.session(before, later) is None


def test_a_session_ends_when_it_idles(people: People) -> None:
    """ASVS 7.3.1."""
    token = token_of(people)
    assert people.session(token, NOON + timedelta(hours=3), 4)
    # It was in use at three hours; four more without use end it.
    assert people.session(token, NOON + timedelta(hours=6, minutes=59), 4)
    assert people.session(token, NOON + timedelta(hours=11), 4) is None


def test_sessions_that_idled_out_are_not_listed(people: People) -> None:
    """ASVS 7.5.2."""
    token_of(people)
    late = token_of(people, NOON + timedelta(hours=5))
    (listed,) = people.sessions("wren", NOON + timedelta(hours=5), 4)
    kept = people.session(late, NOON + timedelta(hours=5), 4)
    assert kept
    assert listed.mark == kept.mark


def test_a_session_that_was_ended_is_not_made_whole(people: People) -> None:
    """ASVS 7.4.5: signed out everywhere holds for who is about to type the code."""
    secret = codes.new_secret()
    people.factors.set_up("wren", secret, pyotp.TOTP(secret).at(NOON), NOON)
    session = people.session(token_of(people, factor=True), NOON)
    assert session
    people.sign_out_everywhere("wren", "head")
    later = NOON + timedelta(seconds=30)
    assert people.factors.give_code(session, pyotp.TOTP(secret).at(later), later, 16) is None
    assert people.sessions("wren", later) == []


def test_an_account_that_is_shut_while_its_password_is_checked_stays_out(
    people: People, monkeypatch: pytest.MonkeyPatch
) -> None:
    """ASVS 7.4.2."""

    def meanwhile(stored: str | None, password: str) -> bool:
        people.disable("wren", "head", "left the office")
        return matches(stored, password)

    monkeypatch.setattr(store_module, "matches", meanwhile)
    assert people.sign_in("wren", GOOD, NOON, 8) is None
    people.enable("wren", "head", "is back")
    assert people.sessions("wren", NOON) == []


def test_a_session_ends_in_any_case(people: People) -> None:
    """ASVS 7.3.2."""
    token = token_of(people)
    for hour in range(1, 16):
        assert people.session(token, NOON + timedelta(hours=hour), 4)
    assert people.session(token, NOON + timedelta(hours=16), 4) is None


def test_a_disabled_account_is_out_at_once(people: People) -> None:
    """ASVS 7.4.2: sessions and links end, and no new one begins."""
    token, link = token_of(people), people.make_link("wren", NOON)
    people.disable("wren", "head", "left the office")
    assert people.session(token, NOON) is None
    assert people.link_login(link, NOON) is None
    assert people.sign_in("wren", GOOD, NOON, 8) is None
    with pytest.raises(InputError, match="Enable it first"):
        people.make_link("wren", NOON)
    people.enable("wren", "head", "is back")
    assert people.sign_in("wren", GOOD, NOON, 8)
    said = [(one.by, one.what, one.reason) for one in people.traces.changes("wren")]
    assert ("head", "disabled", "left the office") in said


def test_other_sessions_end_with_a_new_password_or_factor(people: People) -> None:
    """ASVS 7.4.3."""
    token = token_of(people)
    assert people.change_password("wren", "wrong words here now", "seven green kettles") is False
    assert people.session(token, NOON)
    assert people.change_password("wren", GOOD, "seven green kettles")
    assert people.session(token, NOON) is None
    people.set_password("wren", GOOD)
    token = token_of(people)
    people.factors.take_off("wren", "head", "phone lost")
    assert people.session(token, NOON) is None


def test_other_roles_end_the_sessions(people: People) -> None:
    """ASVS 7.2.4: what a session may do never changes under it."""
    token = token_of(people)
    people.put(replace(WREN, phone="555-0144"))
    assert people.session(token, NOON)
    people.put(replace(WREN, roles=frozenset({"reader"})))
    assert people.session(token, NOON) is None


def test_an_administrator_ends_all_sessions_of_a_person(people: People) -> None:
    """ASVS 7.4.5."""
    tokens = [token_of(people) for _ in range(3)]
    people.sign_out_everywhere("wren", "head")
    assert not any(people.session(token, NOON) for token in tokens)


def test_a_person_sees_and_ends_their_own_sessions(people: People) -> None:
    """ASVS 7.5.2."""
    first, second = token_of(people), token_of(people, NOON + timedelta(minutes=1))
    listed = people.sessions("wren", NOON)
    assert len(listed) == 2
    kept = people.session(second, NOON)
    assert kept
    other = next(one for one in listed if one.mark != kept.mark)
    people.end_session("head", other.mark)
    assert people.session(first, NOON), "of another person"
    people.end_session("wren", other.mark)
    assert people.session(first, NOON) is None
    assert people.session(second, NOON)


def test_the_last_administrator_stays(people: People) -> None:
    with pytest.raises(InputError, match="Nobody could manage people"):
        people.disable("head", "head", "x")
    with pytest.raises(InputError, match="Nobody could manage people"):
        people.put(replace(HEAD, roles=frozenset({"reader"})))
    assert people.get("head") == HEAD


def test_a_hash_of_older_parameters_is_renewed_at_sign_in(people: People, store: Store) -> None:
    old = PasswordHasher(time_cost=1, memory_cost=8 * 1024, parallelism=1).hash(GOOD)
    store.write(lambda database: database.table("accounts").update("wren", {"password": old}))
    assert people.sign_in("wren", GOOD, NOON, 8)
    (row,) = store.read().query("SELECT password FROM accounts WHERE login = 'wren'")
    assert "m=19456,t=2,p=1" in row["password"]


@pytest.mark.parametrize(
    ("address", "network"),
    [("203.0.113.77", "203.0.113.0/24"), ("2001:db8:1:2::3", "2001:db8:1::/48"), ("", "")],
)
def test_no_address_is_kept_whole(address: str, network: str) -> None:
    assert network_of(address) == network


def test_a_browser_has_a_short_name() -> None:
    agent = "Mozilla/5.0 (Linux; Android 14) AppleWebKit/537.36 Chrome/120.0 Mobile Safari/537.36"
    assert device_of(agent) == "Chrome on Android"
    assert device_of("curl/8") == "unknown device"
