"""The morning mail, sent to a real mail server: what it says, to whom, and once a day whatever happens in between."""

import subprocess
from dataclasses import replace
from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import make_depot, make_design, make_event, make_fault, make_mat, make_segment, make_usage_event
from mail_server import Elsewhere, mail_server, text_of

from inspections.assessment.services import assess_pool
from inspections.digest.services import Outcome, send_once
from inspections.models import Digest
from inspections.project.mail import MailServer

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def running():
    with mail_server() as (kept, server):
        yield kept, server


@pytest.fixture
def post(running, settings):
    kept, settings.MAIL = running
    kept.taken.clear()
    kept.refused.clear()
    kept.busy = False
    return kept


@pytest.fixture
def design():
    return make_design("hill 6 m", lengths_m=(0.6, 1.1))


@pytest.fixture
def depots(design, today):
    """Quay Street with a damaged cable, Upper Mill with none; nobody is told of Hangar 2."""
    quay = make_depot("Quay Street")
    quay.mail = "quay@example.org, tam@example.org"
    mill = make_depot("Upper Mill")
    mill.mail = "mill@example.org"
    for depot in (quay, mill):
        depot.save()
    sound = {"fitted": True, "fitted_on": today - timedelta(days=30)}
    make_mat("M-002", design, depot=mill, **sound)
    make_mat("M-003", design, depot=make_depot("Hangar 2"), **sound)
    damaged(make_mat("M-001", design, depot=quay, **sound), 1, today)
    return quay, mill


def damaged(mat, position, on):
    make_fault(mat, "cable", position, reported_on=on, number=mat.faults.count() + 1)
    assess_pool(on)
    return mat


def said(capsys, **options):
    call_command("send_digest", **options)
    return capsys.readouterr().out


def test_a_depot_is_told_what_became_due_there_and_another_nothing(post, depots, today, capsys, settings):
    settings.POOL_ADDRESS = "https://pool.example.org"
    assert f"Quay Street, {today.day} " in said(capsys)
    ((to, message),) = [each for each in post.taken if each[0][0].startswith("quay")]
    assert to == ["quay@example.org", "tam@example.org"]
    assert message["From"] == "pool@example.org"
    assert message["Subject"].startswith("Quay Street: 1 cable became due")
    text = text_of(message)
    assert "Became due: 1 cable\n  M-001 position 1, 0.60 m: cable fault reported on" in text
    assert "https://pool.example.org/due/?depot=Quay+Street" in text
    assert "M-002" not in text and "M-003" not in text


def test_without_an_address_of_the_pool_the_mail_says_why_it_has_no_links(post, depots, settings):
    settings.POOL_ADDRESS = ""
    call_command("send_digest")
    text = text_of(post.taken[0][1])
    assert "HALFPOWER_ADDRESS is not set" in text and "http" not in text


def test_once_a_day_however_often_it_runs_and_then_only_what_is_new(post, depots, today, capsys):
    first = said(capsys)
    mails = len(post.taken)
    assert "sent to" in first and mails == 2  # cables to buy are news to Upper Mill, too
    assert "was sent before" in said(capsys) and len(post.taken) == mails
    tomorrow = today + timedelta(days=1)
    assert "nothing new since the mail of" in said(capsys, on=tomorrow) and len(post.taken) == mails
    damaged(depots[0].mats.get(), 2, today)
    assert "was sent before" in said(capsys) and len(post.taken) == mails
    call_command("send_digest", on=tomorrow)
    text = post.texts["quay@example.org, tam@example.org"]
    assert "1 cable\n  M-001 position 2, 1.10 m" in text
    assert "Still due: 1 cable, as it was in the mail before." in text


def test_what_is_to_be_changed_before_an_event_is_said_each_morning_of_its_week(post, depots, today, capsys):
    event = make_event(today + timedelta(days=8), name="Harl Tor hill run")
    make_usage_event(depots[0].mats.get(), event, state="planned")
    assess_pool(today)
    call_command("send_digest")
    assert "  Harl Tor hill run, " in post.texts["quay@example.org, tam@example.org"]
    assert ": M-001 (1 cable)" in post.texts["quay@example.org, tam@example.org"]
    assert "Harl Tor" not in post.texts["mill@example.org"]
    mails = len(post.taken)
    call_command("send_digest", on=today + timedelta(days=1))
    assert len(post.taken) == mails + 1


def test_a_spare_on_the_shelf_is_not_bought(post, depots, capsys):
    make_segment(length_m=0.6, cable_type=depots[0].mats.get().design.positions.first().cable_type)
    call_command("send_digest")
    assert list(post.texts) == ["quay@example.org, tam@example.org"]
    assert "To buy" not in post.texts["quay@example.org, tam@example.org"]


def test_cables_to_buy_are_named_by_type_and_length(post, depots):
    call_command("send_digest")
    cable_type = depots[0].mats.get().design.positions.first().cable_type
    assert f"\n  1 × 0.60 m {cable_type}\n" in post.texts["mill@example.org"]


def test_mats_without_a_depot_are_in_every_mail(post, depots, design, today):
    damaged(make_mat("M-009", design, fitted=True, fitted_on=today), 1, today)
    call_command("send_digest")
    assert all("M-009 (no depot) position 1" in text for text in post.texts.values())
    assert len(post.texts) == 2


def test_a_mail_that_the_server_refuses_goes_with_the_next_run(post, depots, capsys):
    post.busy = True
    with pytest.raises(CommandError, match="Quay Street: not sent, 451 come back later"):
        call_command("send_digest")
    assert not Digest.objects.exists()
    post.busy = False
    assert "sent to" in said(capsys)
    assert len(post.taken) == 2


def test_one_refused_address_keeps_the_mail_from_no_other(post, depots, capsys):
    post.refused = {"tam@example.org"}
    with pytest.raises(CommandError, match=r"Quay Street: the server refused tam@example\.org"):
        call_command("send_digest")
    assert "sent to quay@example.org." in capsys.readouterr().out
    assert ["quay@example.org"] in [to for to, _ in post.taken]
    assert "was sent before" in said(capsys)


def test_an_address_that_nobody_has_is_said_and_other_depots_have_their_mail(post, depots):
    post.refused = {"quay@example.org", "tam@example.org"}
    with pytest.raises(CommandError, match=r"Quay Street: not sent, no address was taken: quay@example.org \(550"):
        call_command("send_digest")
    assert list(post.texts) == ["mill@example.org"]


class PowerGone(BaseException):
    """Nobody catches it, as nobody catches a power cut."""


def cut(*args):
    raise PowerGone


def test_a_mail_cut_short_is_never_sent_twice_and_the_next_day_loses_nothing(post, depots, today, capsys):
    quay = depots[0]
    with pytest.raises(PowerGone):
        send_once(quay, today, {"due": [], "buy": []}, cut)
    with pytest.raises(CommandError, match="Quay Street: it is not sent again today"):
        call_command("send_digest")
    assert "Quay Street" in capsys.readouterr().out
    assert list(post.texts) == ["mill@example.org"]
    call_command("send_digest", on=today + timedelta(days=1))
    assert "Became due: 1 cable" in post.texts["quay@example.org, tam@example.org"]


def test_two_runs_at_once_send_one_mail(depots, today):
    sent, outcomes = [], []

    def other_run():
        outcomes.append(send_once(depots[0], today, {}, lambda: sent.append("second")))
        sent.append("first")

    outcomes.append(send_once(depots[0], today, {}, other_run))
    assert sent == ["first"]
    assert outcomes == [Outcome.MAYBE_SENT, Outcome.SENT]


def test_without_a_server_it_says_how_to_name_one(depots, settings):
    settings.MAIL = None
    with pytest.raises(CommandError, match="HALFPOWER_MAIL does not say which server takes it"):
        call_command("send_digest")
    assert not Digest.objects.exists()


def test_a_server_that_does_not_answer_costs_no_mail(depots, settings, running):
    settings.MAIL = MailServer(False, "localhost", 1, "", "", "pool@example.org")
    with pytest.raises(CommandError, match=r"No mail was sent\. smtp://localhost:1 takes no mail from here: "):
        call_command("send_digest")
    assert not Digest.objects.exists()


def test_without_an_address_beside_any_depot_it_says_where_to_write_one(post, today, capsys):
    make_mat("M-001", depot=make_depot("Quay Street"))
    assert "on the page Depots" in said(capsys)


def test_a_depot_that_is_withdrawn_has_no_mail(post, depots, today, capsys):
    depots[0].withdrawn_on, depots[0].withdrawal_reason = today, "given up"
    depots[0].save()
    call_command("send_digest")
    assert list(post.texts) == ["mill@example.org"]


def test_a_day_before_the_last_assessed_one_is_refused(post, depots, today):
    with pytest.raises((CommandError, ValidationError), match="ask for that day or a later one"):
        call_command("send_digest", on=today - timedelta(days=1))
    assert post.taken == []


@pytest.fixture
def certificate(tmp_path):
    """One that this machine makes for itself, as (certificate, key)."""
    files = tmp_path / "certificate.pem", tmp_path / "key.pem"
    asked = ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=localhost"]
    asked += ["-addext", "subjectAltName=DNS:localhost", "-out", files[0], "-keyout", files[1]]
    try:
        subprocess.run(asked, check=True, capture_output=True)
    except FileNotFoundError:
        pytest.skip("No openssl found, which makes the certificate.")
    return files


def test_an_encrypted_server_is_believed_by_its_certificate_alone(depots, settings, certificate, monkeypatch):
    with mail_server(certificate=certificate) as (kept, settings.MAIL):
        with pytest.raises(CommandError, match="certificate verify failed"):
            call_command("send_digest")
        assert (kept.taken, Digest.objects.count()) == ([], 0)
        monkeypatch.setenv("SSL_CERT_FILE", str(certificate[0]))
        call_command("send_digest")
        assert len(kept.taken) == 2


def test_a_wrong_password_costs_no_mail_and_is_not_shown(depots, settings, certificate, monkeypatch):
    monkeypatch.setenv("SSL_CERT_FILE", str(certificate[0]))
    with mail_server(certificate=certificate, asks_password=True) as (kept, server):
        settings.MAIL = replace(server, password="guessed")
        with pytest.raises(CommandError, match=r"No mail was sent\. .* 535 ") as refused:
            call_command("send_digest")
        assert "guessed" not in str(refused.value)
        settings.MAIL = server
        call_command("send_digest")
        assert len(kept.taken) == 2


def test_a_password_goes_to_no_other_computer_in_the_open(depots, settings, running):
    _, server = running
    settings.MAIL = Elsewhere(False, server.host, server.port, "halfpower", "secret", server.sender)
    with pytest.raises(CommandError, match="it offers no encryption, and a password is not sent without"):
        call_command("send_digest")
    assert not Digest.objects.exists()


def test_queries_do_not_grow_with_what_is_due(post, depots, design, today):
    def queries(on):
        with CaptureQueriesContext(connection) as sent:
            call_command("send_digest", on=on)
        return len(sent)

    make_usage_event(depots[0].mats.get(), make_event(today + timedelta(days=9)), state="planned")
    assess_pool(today)
    few = queries(today)
    Digest.objects.all().delete()
    for number in range(10, 16):
        mat = make_mat(f"M-0{number}", design, depot=depots[0], fitted=True, fitted_on=today)
        make_fault(mat, "cable", 1, reported_on=today)
        make_usage_event(mat, make_event(today + timedelta(days=number)), state="planned")
    assess_pool(today)
    assert queries(today) == few
    assert "Became due: 7 cables" in post.texts["quay@example.org, tam@example.org"]
