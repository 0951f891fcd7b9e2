"""Guessing is slowed, whoever guesses at whom; who knows the password is not shut out by it."""

import logging
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from itertools import count
from threading import Event, Thread
from time import sleep

import pytest
from at_once import at_once
from django.contrib.auth.hashers import MD5PasswordHasher
from django.core.exceptions import ValidationError
from django.db.models import F
from factories import make_person

from fleet.models import SignInCount, SignInTry
from fleet.services.hashing_places import ANYBODY
from fleet.services.known_browsers import UNKNOWN, Browser
from fleet.services.sign_in import MOST_TRIES_KEPT, check_old_password, sign_in
from fleet.services.sign_in_counts import (
    TooManyTries,
    count_try,
    counts_of_sign_in,
    forget_failures,
    network_of,
)

NOW = datetime(2026, 9, 30, 8, tzinfo=UTC)
RIGHT = "muddy-hands-7"
WRONG = "Name or password is wrong. Capitals matter in both."
HERE, ELSEWHERE = "192.0.2.7", "198.51.100.9"


def outcome(name="keeper", password="not it", address=HERE, now=NOW, browser=UNKNOWN):
    """*in*, *wait* with its seconds, or the words of the refusal."""
    try:
        sign_in(name, password, address=address, now=now, browser=browser)
    except TooManyTries as refusal:
        return f"wait {refusal.wait_s}"
    except ValidationError as refusal:
        return refusal.messages[0]
    return "in"


def guess(times, **asked):
    return [outcome(**asked) for _ in range(times)]


@pytest.mark.parametrize("name", ["keeper", "nobody"])
def test_after_five_wrong_ones_each_waits_longer_whether_there_is_such_an_account_or_not(keeper, name):
    assert guess(5, name=name) == [WRONG] * 5
    now, waits = NOW, []
    for _ in range(7):
        said = outcome(name=name, now=now)
        assert said == outcome(name=name, now=now)
        waits.append(int(said.removeprefix("wait ")))
        now += timedelta(seconds=waits[-1])
        assert outcome(name=name, now=now) == WRONG
    assert waits == [30, 60, 120, 240, 480, 900, 900]


def test_the_right_password_waits_like_a_wrong_one(keeper):
    guess(5)
    assert outcome(password=RIGHT) == "wait 30"
    assert outcome(password=RIGHT, now=NOW + timedelta(seconds=29)) == "wait 1"
    assert outcome(password=RIGHT, now=NOW + timedelta(seconds=30)) == "in"


def test_who_signs_in_begins_anew(keeper):
    guess(4)
    assert outcome(password=RIGHT) == "in"
    assert guess(5) == [WRONG] * 5


def test_slips_of_long_ago_do_not_add_up(keeper):
    for day in range(20):
        assert guess(2, now=NOW + timedelta(days=day)) == [WRONG] * 2


def test_a_quiet_spell_takes_one_failure_back(keeper):
    guess(5)
    later = NOW + timedelta(minutes=15)
    assert [outcome(now=later), outcome(now=later)] == [WRONG, "wait 30"]


def test_guessing_from_elsewhere_keeps_nobody_out(keeper):
    guess(5, address=ELSEWHERE)
    assert outcome(address=ELSEWHERE) == "wait 30"
    assert outcome(password=RIGHT) == "in"


def test_guessing_from_very_many_places_is_slowed_by_the_name_for_five_minutes_at_most(keeper):
    places = (f"203.0.113.{number}" for number in count())
    assert {outcome(address=next(places)) for _ in range(50)} == {WRONG}
    now, waits = NOW, []
    for _ in range(6):
        waits.append(int(outcome(address=next(places), now=now).removeprefix("wait ")))
        now += timedelta(seconds=waits[-1])
        outcome(address=next(places), now=now)
    assert waits == [30, 60, 120, 240, 300, 300]


def test_a_browser_that_signed_in_before_is_reached_by_nobodys_guessing(keeper):
    known = UNKNOWN.after(keeper)
    for number in range(60):
        outcome(address=f"203.0.113.{number}")
    guess(60, address=HERE, name="nobody")
    assert outcome(password=RIGHT).startswith("wait")
    assert outcome(password=RIGHT, browser=known) == "in"


def test_a_browser_that_signed_in_before_guesses_no_more_than_another(keeper):
    known = UNKNOWN.after(keeper)
    assert guess(6, browser=known) == [WRONG] * 5 + ["wait 30"]
    assert guess(6, name="other", address=ELSEWHERE, browser=known) == [WRONG] * 5 + ["wait 30"]


def test_the_mark_of_a_browser_ends_with_the_password_that_it_signed_in_with(keeper):
    known = UNKNOWN.after(keeper)
    keeper.set_password("dry-socks-44")
    keeper.save()
    guess(6)
    assert outcome(password="dry-socks-44", browser=known) == "wait 30"


def test_a_mark_that_somebody_made_up_is_none(keeper):
    packed = UNKNOWN.after(keeper).packed
    assert Browser.read(packed).mark_for(keeper)
    assert [Browser.read(text) for text in ("", "x", packed[:-1], "a" + packed)] == [UNKNOWN] * 4


def test_a_workshop_behind_one_address_has_fifty_slips_before_it_waits(db):
    said = [outcome(name=f"name-{number}") for number in range(51)]
    assert said == [WRONG] * 50 + ["wait 30"]


def test_who_has_an_account_does_not_clear_the_address_for_guesses_at_others(keeper, visitor):
    said = []
    for number in range(54):
        said += [outcome(name=f"name-{number}"), outcome("visitor", RIGHT)]
    assert said[:98] == [WRONG, "in"] * 49
    assert [answer for answer in said[100:] if not answer.startswith("wait")] == []


def test_who_signs_in_at_the_last_free_slip_of_a_workshop_makes_nobody_wait(keeper):
    for number in range(49):
        outcome(name=f"name-{number}")
    assert [outcome(password=RIGHT), outcome(password=RIGHT), outcome(), outcome()] == ["in", "in", WRONG, "wait 30"]


def test_who_signs_in_ends_no_wait_that_others_began(keeper):
    mine, others = counts_of_sign_in("keeper", HERE), counts_of_sign_in("nobody", HERE)[2:]
    count_try(mine, NOW)
    for _ in range(49):
        count_try(others, NOW + timedelta(seconds=1))
    forget_failures(mine, NOW)
    with pytest.raises(TooManyTries):
        count_try(others, NOW + timedelta(seconds=1))


@pytest.mark.parametrize(
    ("address", "network"),
    [
        ("192.0.2.7", "192.0.2.7"),
        ("::ffff:192.0.2.7", "192.0.2.7"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
        ("fe80::1%eth0", "fe80::/64"),
        ("", ""),
        ("of no kind", "of no kind"),
    ],
)
def test_an_ipv6_network_counts_as_one(address, network):
    assert network_of(address) == network


def test_moving_about_in_an_ipv6_network_makes_no_new_guesser(keeper):
    said = [outcome(address=f"2001:db8::{number}") for number in range(6)]
    assert said == [WRONG] * 5 + ["wait 30"]


def test_a_clock_that_was_years_ahead_shuts_nobody_out(keeper):
    guess(6, now=NOW + timedelta(days=3650))
    assert outcome(password=RIGHT) == "in"


@pytest.mark.django_db(transaction=True)
def test_twenty_guesses_at_once_count_as_twenty():
    counts = counts_of_sign_in("keeper", HERE)[1:]
    at_once(20, lambda: count_try(counts, NOW))
    assert list(SignInCount.objects.values_list("failures", flat=True)) == [20, 20]


@pytest.mark.django_db(transaction=True)
def test_of_twenty_guesses_at_once_at_one_name_five_are_let_through():
    counts = counts_of_sign_in("keeper", HERE)
    answers = at_once(20, lambda: count_try(counts, NOW))
    assert (
        sorted(map(str, answers))
        == ["None"] * 5 + ["Too many tries in a short time. Wait 30 seconds, then try again."] * 15
    )


@pytest.mark.django_db(transaction=True)
def test_of_twenty_who_sign_in_at_once_no_more_are_looked_at_than_are_counted(hashed):
    keeper = make_person()
    hashed.clear()
    said = at_once(20, outcome)
    assert 1 <= said.count(WRONG) <= 5
    assert {answer for answer in said if answer != WRONG} <= {"wait 5", "wait 30"}
    assert hashed == ["not it"] * said.count(WRONG)
    assert SignInTry.objects.filter(account=keeper, outcome="wrong").count() == said.count(WRONG)
    assert set(SignInCount.objects.values_list("failures", flat=True)) == {said.count(WRONG)}


@contextmanager
def standing_in(line, many=3):
    """As many as the line has room for, or fewer; one of them hashes."""
    done = Event()

    def hash_slowly(name):
        with line.joined(name), line.place_to_hash():
            done.wait(60)

    threads = [Thread(target=hash_slowly, args=(f"guest {number}",)) for number in range(many)]
    for thread in threads:
        thread.start()
    while len(line._names) < many or line._place._value:
        sleep(0)
    try:
        yield
    finally:
        done.set()
        for thread in threads:
            thread.join()


def test_one_hashes_two_wait_for_that_and_the_rest_go_away_uncounted(keeper, hashed):
    with standing_in(ANYBODY):
        assert guess(9) == ["wait 5"] * 9
    assert (hashed, SignInCount.objects.count()) == ([], 0)
    assert outcome(password=RIGHT) == "in"


def test_who_signs_in_again_and_again_leaves_a_place_in_the_line(keeper):
    with standing_in(ANYBODY, many=1), ANYBODY.joined("guest 0"):
        assert [outcome("guest 0") for _ in range(6)] == ["wait 5"] * 6
        with ANYBODY.joined("keeper"):
            pass


def test_guessers_who_fill_the_line_keep_out_no_browser_that_signed_in_before(keeper):
    with standing_in(ANYBODY):
        assert outcome(password=RIGHT) == "wait 5"
        assert outcome(password=RIGHT, browser=UNKNOWN.after(keeper)) == "in"
        check_old_password(keeper, RIGHT, address=HERE, now=NOW)


@pytest.fixture
def hashed(monkeypatch):
    """The passwords that were hashed, each by the real hasher of these tests."""
    seen, encode = [], MD5PasswordHasher.encode

    def noting(self, password, *args, **kwargs):
        seen.append(password)
        return encode(self, password, *args, **kwargs)

    monkeypatch.setattr(MD5PasswordHasher, "encode", noting)
    return seen


def test_each_try_costs_one_hash_and_a_refused_one_none(keeper, visitor, hashed):
    visitor.is_active = False
    visitor.save()
    asked = [("keeper", "not it"), ("keeper", RIGHT), ("nobody", "not it"), ("visitor", "not it"), ("visitor", RIGHT)]
    for name, password in asked:
        outcome(name, password)
        assert hashed == [password]
        hashed.clear()
    guess(5)
    hashed.clear()
    outcome()
    assert hashed == []


def test_a_password_without_end_is_refused_before_anything_is_hashed_or_counted(keeper, hashed):
    assert outcome(password="x" * 1025) == "Write at most 1024 characters; this has 1025."
    with pytest.raises(ValidationError):
        check_old_password(keeper, "x" * 1025, address=HERE, now=NOW)
    assert (hashed, SignInCount.objects.count(), SignInTry.objects.count()) == ([], 0, 0)
    assert outcome(password="x" * 1024) == WRONG


def test_that_an_account_is_deactivated_hears_only_who_knows_its_password(visitor):
    visitor.is_active = False
    visitor.save()
    assert outcome("visitor") == WRONG
    assert outcome("visitor", RIGHT) == "This account is deactivated. Ask the keeper of the pool."


def test_tries_stand_with_time_account_address_and_outcome_and_never_with_a_name_or_password(keeper, caplog):
    caplog.set_level(logging.INFO, "halfpower.sign_in")
    outcome("keeper", "oops-secret")
    outcome("peat-in-the-name-field", "oops-secret", address="2001:db8::1")
    outcome("keeper", RIGHT)
    said = [record.getMessage() for record in caplog.records if record.name == "halfpower.sign_in"]
    assert said == [
        "keeper from 192.0.2.7: wrong",
        "a name without account from 2001:db8::1: wrong",
        "keeper from 192.0.2.7: signed in",
    ]
    rows = SignInTry.objects.order_by("pk").values_list("tried_at", "account", "address", "outcome")
    assert list(rows) == [
        (NOW, keeper.pk, HERE, "wrong"),
        (NOW, None, "2001:db8::1", "wrong"),
        (NOW, keeper.pk, HERE, "signed in"),
    ]


def test_of_refused_tries_the_first_of_each_wait_is_written_down(keeper, caplog):
    caplog.set_level(logging.INFO, "halfpower.sign_in")
    guess(25)
    guess(25, now=NOW + timedelta(seconds=30))
    outcomes = list(SignInTry.objects.order_by("pk").values_list("outcome", flat=True))
    assert outcomes == ["wrong"] * 5 + ["told to wait", "wrong", "told to wait"]
    assert len(caplog.records) == len(outcomes)


def test_tries_and_counts_go_with_age(keeper):
    guess(5)
    later = NOW + timedelta(days=91)
    outcome("nobody", now=later)
    assert list(SignInTry.objects.values_list("tried_at", flat=True)) == [later]
    assert SignInCount.objects.exclude(last_at=later).count() == 0


def test_there_are_never_more_tries_than_are_kept(keeper):
    outcome()
    SignInTry.objects.update(id=F("id") - MOST_TRIES_KEPT)
    outcome("nobody")
    assert list(SignInTry.objects.values_list("account", flat=True)) == [None]


def test_the_old_password_is_guessed_no_faster_and_keeps_nobody_from_signing_in(keeper):
    def say(password, now=NOW):
        check_old_password(keeper, password, address=HERE, now=now)

    for _ in range(5):
        with pytest.raises(ValidationError, match="Your old password was entered incorrectly"):
            say("not it")
    with pytest.raises(TooManyTries, match="Wait 30 seconds"):
        say(RIGHT)
    assert outcome(password=RIGHT) == "in"
    say(RIGHT, NOW + timedelta(seconds=30))
    said = list(SignInTry.objects.order_by("pk").values_list("outcome", flat=True))
    assert said == ["wrong old password"] * 5 + ["told to wait", "signed in"]


def test_nobody_reads_names_or_addresses_out_of_the_counts(keeper):
    first = make_person("first")
    outcome(first.username)
    assert all(len(key) == 64 for key in SignInCount.objects.values_list("key", flat=True))
