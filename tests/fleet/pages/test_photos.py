"""Photos of faults: added with a report or later, shown, served to who is signed in, taken off."""

import re
from hashlib import sha256

import pytest
from conftest import signed_in
from django.core.files.storage import storages
from django.test import Client
from factories import make_fault, make_mat, make_person
from page_forms import form_in
from page_words import words_in
from photos import TURNED, opened, parts_of_jpeg, photo_file

from fleet.models import Fault, FaultPhoto
from fleet.models.photos import photo_file_name
from fleet.services.photos import MOST_OF_A_FAULT

pytestmark = pytest.mark.django_db
REPORT = "/mats/6/faults/report/"


@pytest.fixture
def mat():
    return make_mat("6", fitted=True)


@pytest.fixture
def fault(mat, today):
    return make_fault(mat, "wet", None, today)


def photos_page(fault):
    return f"/faults/{fault.pk}/photos/"


def send(client, address, *files, **values):
    return client.post(address, form_in(client.get(address)) | values | {"photos": list(files)})


def served(client, photo):
    answer = client.get(photo.url)
    return answer, answer.content


def text(answer):
    return words_in(answer.content.decode())


def test_a_photo_sent_with_the_report_is_stored_with_it(log_client, log_hand, mat):
    assert send(log_client, REPORT, photo_file(size=(320, 240), orientation=TURNED), place="wet").status_code == 302
    photo = FaultPhoto.objects.get()
    assert (photo.fault, photo.recorded_by) == (Fault.objects.get(), log_hand)
    answer, content = served(log_client, photo)
    assert (answer["Content-Type"], answer["X-Content-Type-Options"]) == ("image/jpeg", "nosniff")
    assert answer["Content-Disposition"].startswith("inline")
    assert sha256(content).hexdigest() == photo.sha256
    assert (opened(content).size, "ffe1" in parts_of_jpeg(content)) == ((240, 320), False)


def test_a_report_without_a_photo_is_one_tap(log_client, mat):
    assert send(log_client, REPORT, place="cover or fold").status_code == 302
    assert (Fault.objects.get().place, FaultPhoto.objects.count()) == ("cover or fold", 0)


@pytest.mark.parametrize(
    ("tapped", "stored"),
    [
        ({"place": "cable"}, ("one of the cables", None, "")),
        ({"place": "connector"}, ("one of the cables", None, "connector")),
        ({"place": "connector", "what": "pin bent"}, ("one of the cables", None, "connector: pin bent")),
        ({"place": "cable", "position": "2"}, ("cable", 2, "")),
        ({"place": "connector", "position": "2", "what": "pin bent"}, ("connector", 2, "pin bent")),
    ],
)
def test_a_cable_of_unknown_position_is_one_of_the_cables(log_client, mat, tapped, stored):
    assert send(log_client, REPORT, **tapped).status_code == 302
    fault = Fault.objects.get()
    assert (fault.place, fault.position, fault.what) == stored


def test_enter_in_a_field_reports_nothing(log_client, mat):
    """The first button of the form is the one that Enter presses: it is there for that, and says no place."""
    page = log_client.get(REPORT).content.decode().partition("data-queue")[2]
    assert re.search(r"<button[^>]*>", page)[0] == "<button disabled hidden>"
    answer = send(log_client, REPORT, what="torn")
    assert answer.status_code == 422 and form_in(answer)["what"] == "torn"
    assert "Say what is damaged or wet: press one of the buttons." in text(answer)


def test_the_same_report_sent_twice_is_stored_once_with_its_photo(log_client, mat):
    sent = form_in(log_client.get(REPORT)) | {"place": "wet"}
    for _ in range(2):
        assert log_client.post(REPORT, sent | {"photos": [photo_file()]}).status_code == 302
    assert (Fault.objects.count(), FaultPhoto.objects.count()) == (1, 1)


def test_more_photos_are_added_to_an_open_fault_and_the_same_one_once(log_client, fault):
    send(log_client, photos_page(fault), photo_file(), photo_file("2.png", kind="PNG", colour="blue"))
    answer = send(log_client, photos_page(fault), photo_file("again.jpg"))
    assert answer.status_code == 302
    assert fault.photos.count() == 2
    assert "The fault has these photos already." in text(log_client.get("/mats/6/"))


def test_a_closed_fault_takes_no_more(bench_client, fault, today):
    sent = form_in(bench_client.get(photos_page(fault))) | {"photos": [photo_file()]}
    Fault.objects.update(ended_on=today, end_reason="dried")
    answer = bench_client.post(photos_page(fault), sent)
    assert answer.status_code == 422 and not FaultPhoto.objects.exists()
    assert "it takes no more photos" in text(answer)


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("notes.jpg", b"mat,design", "“notes.jpg” is not a photo that can be read here."),
        ("<b>.jpg", b"<script>alert(1)</script>", "“&lt;b&gt;.jpg” is not a photo"),
        ("IMG_7.HEIC", b"\0\0\0\x18ftypheic" + bytes(99), "“IMG_7.HEIC” is a HEIC photo, which cannot be read here."),
        ("x.jpg", b"", "“x.jpg” is not a photo that can be read here."),
    ],
)
def test_what_is_no_photo_is_refused_by_name_and_nothing_is_stored(log_client, fault, data_dir, name, content, said):
    answer = send(log_client, photos_page(fault), photo_file(name, content))
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not FaultPhoto.objects.exists() and not (data_dir / "photos").exists()


def test_a_report_with_what_is_no_photo_keeps_what_was_typed(log_client, mat):
    answer = send(log_client, REPORT, photo_file("x.jpg", b"no photo"), place="wet", what="soaked", position="2")
    assert (answer.status_code, Fault.objects.count()) == (422, 0)
    assert (form_in(answer)["what"], form_in(answer)["position"]) == ("soaked", "2")
    assert "A photo is not kept in a form that comes back. Choose it again." in text(answer)
    assert "Choose it again" not in text(send(log_client, REPORT, what="soaked"))


def test_five_photos_at_once_and_thirteen_in_all_are_too_many(log_client, fault):
    five = [photo_file(f"{n}.jpg", size=(20 + n, 20)) for n in range(5)]
    assert "These are 5 photos. Add at most 4 at once." in text(send(log_client, photos_page(fault), *five))
    for n in range(MOST_OF_A_FAULT):
        FaultPhoto.objects.create(fault=fault, sha256=f"{n:064x}")
    assert "A fault has at most 12 photos. This one has 12." in text(send(log_client, photos_page(fault), photo_file()))


def test_the_file_is_there_before_the_row_and_for_its_owner_only(log_client, fault, data_dir):
    send(log_client, photos_page(fault), photo_file())
    sha = FaultPhoto.objects.get().sha256
    files = [path for path in (data_dir / "photos").rglob("*") if path.is_file()]
    assert [path.relative_to(data_dir).as_posix() for path in files] == [f"photos/{sha[:2]}/{sha}.jpg"]
    assert files[0].stat().st_mode & 0o777 == 0o600
    assert len(files[0].read_bytes()) <= 300_000


def test_only_photos_of_faults_are_served_and_only_to_who_is_signed_in(visitor_client, log_client, fault):
    send(log_client, photos_page(fault), photo_file())
    photo = FaultPhoto.objects.get()
    assert served(visitor_client, photo)[0].status_code == 200
    assert Client().get(photo.url).url == f"/sign-in/?next={photo.url}"
    for elsewhere in ("0" * 64, photo.sha256.upper(), photo.sha256[:-1], "..%2f..%2fsecret_key", "x%00y", "a" * 5000):
        assert visitor_client.get(f"/photos/{elsewhere}.jpg").status_code in (400, 404)
    storages["photos"].delete(photo_file_name(photo.sha256))
    assert visitor_client.get(photo.url).status_code == 404


def test_a_hash_that_somebody_wrote_into_the_database_leads_to_no_other_file(visitor_client, fault, data_dir):
    (data_dir / "photos" / "se").mkdir(parents=True)
    (data_dir / "photos" / "se" / "secret.jpg").write_text("secret")
    FaultPhoto.objects.create(fault=fault, sha256="secret")
    assert visitor_client.get("/photos/secret.jpg").status_code == 404
    with pytest.raises(ValueError, match="no name of a photo"):
        photo_file_name("../secret_key")


def test_serving_a_photo_asks_the_database_for_it_once(log_client, fault, django_assert_num_queries):
    send(log_client, photos_page(fault), photo_file())
    photo = FaultPhoto.objects.get()
    # two are for the session and who it is of
    with django_assert_num_queries(3):
        served(log_client, photo)


@pytest.mark.parametrize("place", ["/mats/6/", "/faults/{}/photos/", "/faults/{}/end/", "/faults/{}/correct/", REPORT])
def test_pages_of_a_fault_show_its_photos_with_words_for_who_cannot_see_them(keeper_client, fault, today, place):
    send(keeper_client, photos_page(fault), photo_file())
    page = keeper_client.get(place.format(fault.pk)).content.decode()
    shown = re.search(r'<img src="(/photos/[^"]+)"[^>]*alt="([^"]+)"', page)
    assert shown[1] == FaultPhoto.objects.get().url
    assert shown[2] == f"Photo 1 of mat 6: wet, {today:%-d %b %Y}"


def test_queries_of_a_mats_page_do_not_grow_with_its_photos(keeper_client, mat, fault, today):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    def asked():
        with CaptureQueriesContext(connection) as queries:
            keeper_client.get("/mats/6/")
        return len(queries)

    FaultPhoto.objects.create(fault=fault, sha256="0" * 64)
    asked()
    before = asked()
    other = make_fault(mat, "cover or fold", None, today, number=2)
    for n in range(1, 4):
        FaultPhoto.objects.create(fault=fault, sha256=f"{n:064x}")
        FaultPhoto.objects.create(fault=other, sha256=f"{n:064x}")
    assert asked() == before


@pytest.fixture
def photo(log_client, fault):
    send(log_client, photos_page(fault), photo_file())
    return FaultPhoto.objects.get()


def take_off(client, photo, reason="the wrong mat"):
    place = f"/photos/{photo.pk}/take-off/"
    return client.post(place, form_in(client.get(place)) | {"reason": reason})


@pytest.mark.parametrize("who", ["log_client", "keeper_client"])
def test_whoever_added_it_and_a_keeper_take_a_photo_off(request, photo, who):
    client = request.getfixturevalue(who)
    assert f"/photos/{photo.pk}/take-off/" in client.get(photos_page(photo.fault)).content.decode()
    assert take_off(client, photo).url == "/mats/6/"
    assert not FaultPhoto.objects.exists()
    assert client.get(photo.url).status_code == 404
    page = text(client.get("/mats/6/"))
    assert "Photo of a fault: taken off" in page and "the wrong mat" in page


def test_another_who_may_log_takes_nobodys_photo_off(photo):
    client = signed_in(make_person("mona", role="log"))
    assert "take-off" not in client.get(photos_page(photo.fault)).content.decode()
    assert client.get(f"/photos/{photo.pk}/take-off/").status_code == 403
    assert client.post(f"/photos/{photo.pk}/take-off/", {"reason": "no"}).status_code == 403
    assert FaultPhoto.objects.exists()


def test_a_photo_without_a_reason_stays(keeper_client, photo):
    assert take_off(keeper_client, photo, reason="").status_code == 422
    assert FaultPhoto.objects.exists()
