"""A cable that is not what its position is for is asked about before it is fitted."""

import pytest
from factories import make_cable_type, make_design, make_mat, make_segment
from page_forms import form_in
from page_words import words_in

from fleet.models import CableType
from fleet.models.segments import ASSUMED_CABLE

pytestmark = pytest.mark.django_db
FIT = "/mats/M-1/positions/1/fit/"


@pytest.fixture
def thin(db):
    return make_cable_type("thin")


@pytest.fixture
def mat(thin):
    return make_mat("M-1", design=make_design(lengths_m=(1.0, 2.0), cable_type=thin))


def send(client, segment, **more):
    return client.post(FIT, form_in(client.get(FIT)) | {"segment": segment.serial} | more)


def said(answer):
    return words_in(answer.content.decode())


def answered(client, asked):
    return client.post(FIT, form_in(asked) | {"confirmed": asked.context["form"].ways[0][0]})


@pytest.mark.parametrize("length_m", [1.2, 0.89])
def test_another_length_is_asked_about_and_fitted_once_it_is_meant(bench_client, mat, thin, length_m):
    spare = make_segment(length_m, "C-1", cable_type=thin)
    asked = send(bench_client, spare)
    assert asked.status_code == 422
    assert f"C-1 is {length_m:.2f} m long, its position is for 1.00 m." in said(asked)
    assert not spare.fittings.exists()
    done = answered(bench_client, asked)
    assert done.status_code == 302
    assert spare.fittings.get().mat == mat
    assert "its position is for" not in said(bench_client.get(done.url)), "what was asked needs no remark"


def test_another_type_is_asked_about(bench_client, mat):
    asked = send(bench_client, make_segment(1.0, "C-1", cable_type=make_cable_type("thick")))
    assert "C-1 is cut from thick, its position is for thin." in said(asked)
    assert answered(bench_client, asked).status_code == 302


def test_a_tenth_more_or_less_and_an_unknown_type_are_remarks(bench_client, mat, thin):
    done = send(bench_client, make_segment(1.09, "C-1", cable_type=thin))
    assert done.status_code == 302
    assert "C-1 is 1.09 m long, its position is for 1.00 m. Its own length counts." in said(bench_client.get(done.url))
    CableType.objects.filter(pk=thin.pk).update(name=ASSUMED_CABLE)
    mat.fittings.all().delete()
    done = send(bench_client, make_segment(1.0, "C-2", cable_type=make_cable_type("thick")))
    assert done.status_code == 302
    assert "C-2 is cut from thick" in said(bench_client.get(done.url))


def test_the_answer_for_one_cable_does_not_cover_another(bench_client, mat, thin):
    asked = send(bench_client, make_segment(2.0, "C-1", cable_type=thin))
    make_segment(3.0, "C-2", cable_type=thin)
    other = bench_client.post(FIT, form_in(asked) | {"segment": "C-2", "confirmed": asked.context["form"].ways[0][0]})
    assert "C-2 is 3.00 m long, its position is for 1.00 m." in said(other)


def test_a_cable_added_for_a_position_is_asked_about_when_it_goes_there(keeper_client, mat, thin):
    add = "/cables/add/?mat=M-1&position=1&length_m=1&cable_type=thin"
    added = keeper_client.post(add, form_in(keeper_client.get(add)) | {"serial": "C-9", "length_m": "2"})
    form = form_in(keeper_client.get(added.url))
    assert form["segment"] == "C-9"
    assert "C-9 is 2.00 m long, its position is for 1.00 m." in said(keeper_client.post(FIT, form))
