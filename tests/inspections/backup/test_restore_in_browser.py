"""A back-up downloaded, sent, looked at and restored in the browser, on both databases."""

from datetime import timedelta

import pytest
from backups import AT, whole_pool
from conftest import signed_in
from django.apps import apps
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.db import transaction
from django.utils import timezone
from factories import make_mat
from page_words import words_in

from fleet.models import Depot, Mat, Pool, Session, SignInTry
from fleet.services.sign_in import check_old_password
from inspections.backup.making import make_backup
from inspections.backup.restorable import copies_here
from inspections.backup.restoring import restore_backup

pytestmark = pytest.mark.django_db(transaction=True)
PASSWORD = "muddy-hands-7"


@pytest.fixture
def client(one_of_everything, keeper):
    """Signed in as the keeper of a pool with one of everything, entered an hour ago."""
    # a back-up says to the second when it was made
    for model in apps.get_models():
        for name in {"recorded_at", "history_date", "date_joined"} & {field.name for field in model._meta.fields}:
            model._base_manager.update(**{name: timezone.now() - timedelta(hours=1)})
    return signed_in(keeper)


def downloaded(client):
    return client.post("/copies/download/").getvalue()


def send(client, content, **more):
    return client.post("/copies/send/", {"file": SimpleUploadedFile("pool.zip", content)}, **more)


def sent(client, content):
    """The address of the page that shows what it would change."""
    return send(client, content)["Location"]


def text_of(answer):
    return words_in(answer.content.decode().partition("<main")[2].partition("</main")[0])


def kinds_of(answer):
    return {kind.words: (kind.now, kind.since, kind.then) for kind in answer.context["look"].kinds}


def left_in(data_dir):
    """What no restore and no download may leave behind."""
    return [path.name for path in data_dir.rglob("*") if path.name.startswith((".restore", ".sending", "back-up."))]


def test_a_pool_is_downloaded_looked_at_and_restored_and_what_it_replaced_can_be_too(client, data_dir):
    before = whole_pool(data_dir)
    content = downloaded(client)
    make_mat("M-777")
    newer = whole_pool(data_dir)
    place = sent(client, content)
    look = client.get(place)
    assert (kinds_of(look)["mats"], kinds_of(look)["sweep files"]) == ((2, 1, 1), (1, None, 1))
    # the mat and its design, with four positions and their cable type
    assert "Since the back-up: 7 records entered. All that goes." in text_of(look)
    assert "You sign in again with your password of today." in text_of(look)
    done = client.post(place, {"password": PASSWORD})
    assert done.status_code == 200
    assert "These records are removed: 2 mats" in text_of(done)
    assert whole_pool(data_dir)[0::3] == before[0::3]
    assert (Session.objects.count(), client.get("/copies/").status_code, left_in(data_dir)) == (0, 302, [])
    (copy,) = [copy for copy in copies_here() if copy.what == "before a restore"]
    client.force_login(User.objects.get(username="keeper"))
    client.post(f"/copies/restore/{copy.name}/", {"password": PASSWORD})
    assert whole_pool(data_dir)[0::3] == newer[0::3]
    assert (data_dir / "copies" / copy.name).exists()


def test_the_wrong_password_restores_nothing_and_is_counted_as_a_try(client, keeper, data_dir):
    place = sent(client, downloaded(client))
    make_mat("M-777")
    refused = client.post(place, {"password": "guess"})
    assert refused.status_code == 422 and "This is not your password." in text_of(refused)
    assert SignInTry.objects.filter(outcome="wrong old password").count() == 1
    for _ in range(4):
        with pytest.raises(ValidationError):
            check_old_password(keeper, "guess", address="", now=timezone.now())
    refused = client.post(place, {"password": "guess"})
    assert refused.status_code == 429 and "Too many tries" in text_of(refused)
    assert client.post(place, {"password": PASSWORD}).status_code == 429
    assert Mat.objects.count() == 2 and Session.objects.exists()


def test_a_look_changes_nothing_and_what_is_not_wanted_can_be_discarded(client, data_dir):
    content, before = downloaded(client), whole_pool(data_dir)[:3]
    place = sent(client, content)
    client.get(place)
    assert whole_pool(data_dir)[:3] == before
    assert len(left_in(data_dir)) == 1
    client.post(f"{place}leave/")
    assert left_in(data_dir) == []
    assert "This back-up is not here any more." in text_of(client.get(place, follow=True))


def test_it_is_said_what_was_corrected_and_deleted_since(client, keeper):
    place = sent(client, downloaded(client))
    with transaction.atomic():
        Mat.objects.get().correct(by=keeper, reason="painted", owner="the quay")
        make_depot = Depot.objects.create(name="Quay", recorded_at=AT)
        make_depot.delete_with_trail(by=keeper, reason="never was")
    said = text_of(client.get(place))
    assert "Since the back-up: 1 correction made. All that goes." in said
    assert "What was deleted since comes back: 1 record." in said


def test_a_back_up_of_another_pool_is_called_that(client, data_dir, tmp_path):
    content = downloaded(client)
    Pool.objects.update(uid="11111111-2222-3333-4444-555555555555")
    said = text_of(client.get(sent(client, content)))
    assert "This is a back-up of another pool. Everything in this pool goes." in said
    assert "Entered since" not in said


def test_whoever_will_not_get_in_by_their_password_of_today_is_told_so(client, keeper):
    content = downloaded(client)
    keeper.set_password("new-boots-8")
    keeper.save()
    client.force_login(keeper)
    assert "You sign in again with the password that you had then." in text_of(client.get(sent(client, content)))
    User.objects.filter(pk=keeper.pk).update(username="anew")
    said = text_of(client.get(sent(client, content)))
    assert "Your account is not in it, or is deactivated there." in said
    assert "Keepers after it keeper" in said


def test_what_nobody_could_sign_in_to_is_not_restored_from_the_browser(client, tmp_path, keeper):
    content = without_accounts(tmp_path)
    client.force_login(User.objects.get(username="keeper"))
    refused = client.post(sent(client, content), {"password": PASSWORD})
    assert "In this back-up nobody has an account, so nobody could sign in after it." in text_of(refused)
    assert refused.status_code == 422 and Mat.objects.count() == 1


def without_accounts(tmp_path):
    """A back-up of a pool that nobody has begun."""
    kept = tmp_path / "kept.zip"
    make_backup(kept, now=AT)
    call_command("flush", interactive=False, verbosity=0)
    make_backup(tmp_path / "empty.zip", now=AT)
    restore_backup(kept, replace=True, now=AT, notify=print)
    return (tmp_path / "empty.zip").read_bytes()
