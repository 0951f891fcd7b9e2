"""Numbers and words beyond all bounds, in addresses and hidden fields: answered, and nothing is half done."""

from datetime import timedelta
from urllib.parse import urlencode

import pytest
from addresses import PATTERNS, address
from factories import make_cable_type, make_event, make_fault, make_mat, make_segment, make_usage_event
from page_forms import form_in

from fleet.models import CableSegment, Fault
from fleet.selectors.numbering import next_free_serials
from fleet.services.events import add_event
from fleet.services.rows import add_row
from fleet.services.series import repeat_event
from fleet.views.pages import MOST_PER_PAGE, PER_PAGE
from inspections.models import Instrument

LISTS = sorted(
    {route for name, route in PATTERNS if "<" not in route and (name.endswith("-list") or name in ("bench", "people"))}
)


def test_a_list_shows_as_many_rows_as_the_address_asks_for_within_bounds(keeper_client):
    def shown(asked):
        return len(keeper_client.get(f"/instruments/?per_page={asked}").context["table"].page.object_list)

    for number in range(60):
        add_row(Instrument, by=None, name=f"bridge {number}", standard_uncertainty_db=0.1)
    assert [shown(asked) for asked in ("", 2, 55, 100_000_000)] == [PER_PAGE, 2, 55, 60]


@pytest.mark.parametrize("place", ["/bench/", "/find/"])
def test_a_book_in_a_search_box_is_found_nowhere(keeper_client, place):
    make_mat("M-1")
    answer = keeper_client.get(place, {"q": "x" * 70_000})
    assert answer.status_code == 200
    assert "M-1</a>" not in answer.content.decode()


@pytest.mark.parametrize(("mat", "position"), [("a/b", "1"), ("M-1", "9" * 5_000), ("", "1"), ("M-1", "-1")])
def test_a_cable_for_a_place_that_cannot_be_is_added_and_shown(keeper_client, mat, position):
    make_cable_type("thin")
    values = {"serial": "C-1", "cable_type": "thin", "length_m": "1"}
    answer = keeper_client.post(f"/cables/add/?mat={mat}&position={position}", values)
    assert (answer.status_code, answer.url) == (302, "/cables/C-1/")
    assert CableSegment.objects.count() == 1


@pytest.mark.parametrize("version", [2**63 - 1, 2**63, 2**31, "9" * 5_000, -1, 0])
def test_a_version_that_no_row_had_is_not_the_one_that_stands(keeper_client, version):
    fault = make_fault(make_mat(fitted=True))
    form = form_in(keeper_client.get(f"/faults/{fault.pk}/correct/"))
    form["version"] = version
    answer = keeper_client.post(f"/faults/{fault.pk}/correct/", form | {"what": "loose"})
    assert answer.status_code == 422
    assert not Fault.objects.filter(what="loose").exists()


@pytest.mark.parametrize("digits", [25, 5_000])
def test_a_loss_of_a_cable_of_no_number_is_of_none(bench_client, digits):
    mat = make_mat("M-1", fitted=True)
    form = form_in(bench_client.get("/bench/M-1/"))
    body = urlencode(form | {f"found-{'9' * digits}": "1.3"})
    answer = bench_client.post("/bench/M-1/", body, content_type="application/x-www-form-urlencoded")
    assert answer.status_code == 422
    assert not mat.fittings.first().segment.measurements.exists()


@pytest.mark.parametrize("seen", ["9" * 5_000, "x", "-1", "²"])
def test_values_seen_in_no_version_are_looked_at_again(keeper_client, seen):
    form = form_in(keeper_client.get("/policy/"))
    keeper_client.post("/policy/", form | {"pool.age_limit_years": "4", "seen": ""})
    form |= {"pool.age_limit_years": "5", "seen": f"pool.age_limit_years={seen}"}
    answer = keeper_client.post("/policy/", form)
    assert answer.status_code == 422
    assert "somebody else changed it meanwhile" in answer.content.decode()


def test_a_code_of_nothing_but_nines_is_no_number_to_count_on_from(keeper, on):
    make_event(on, code=f"E-{on.year}-{'9' * 53}")
    make_segment(serial="C-" + "9" * 58)
    event = add_event(by=keeper, name="run", starts_on=on)
    series = repeat_event(event, every_weeks=1, until=on + timedelta(weeks=2), by=keeper, on=on)
    codes = series.events.order_by("starts_on").values_list("code", flat=True)
    assert list(codes) == [f"E-{on.year}-0{number}" for number in (1, 2, 3)]
    assert next_free_serials(1) == ["C-00001"]


LOG = {"event": "new", "name": "run", "starts_on": "2026-05-02", "paste": "M-1", "counts_for": "1", "basis": "counted"}


@pytest.mark.parametrize("name", ["counts_for", "fold_cycles", "every_weeks"])
@pytest.mark.parametrize("count", ["1" + "0" * 400, "-1" + "0" * 400, "9" * 5_000, "1e400", "1e-400"])
def test_a_count_beyond_all_numbers_is_refused_at_its_field(keeper_client, name, count):
    make_mat("M-1")
    form = form_in(keeper_client.get("/events/log/")) | LOG | {"act": "log", "until": "2026-07-02", name: count}
    answer = keeper_client.post("/events/log/", form)
    assert answer.status_code == 422
    assert name in answer.context["form"].errors


@pytest.mark.parametrize("name", ["name", "place"])
def test_a_book_for_the_name_of_an_event_is_that_of_no_earlier_one(bench_client, name):
    make_usage_event(make_mat("M-1"), event := make_event())
    form = form_in(bench_client.get("/events/log/")) | LOG | {"act": "same", "starts_on": "2026-09-02"}
    answer = bench_client.post("/events/log/", form | {name: "x" * 70_000})
    assert answer.context["earlier"] == event  # the newest of all


# last: the examples stay until the module ends
@pytest.mark.parametrize("place", [*LISTS, "start/answer/"])
@pytest.mark.parametrize("asked", ["-1", "0", "abc", "9" * 5_000, "100000000", "1e9", ""])
def test_every_list_has_pages_of_some_rows_whatever_is_asked(keeper_client, examples, place, asked):
    answer = keeper_client.get(f"{address(place, examples)}?per_page={asked}&page={asked}")
    assert answer.status_code == 200
    assert 1 <= answer.context["table"].paginator.per_page <= MOST_PER_PAGE
