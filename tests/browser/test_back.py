"""What was typed is there again when somebody comes back to a page, though no browser keeps the page itself."""

import pytest
from django.db import transaction
from factories import make_mat

from fleet.models import Event, Mat

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
LAID_ASIDE = "Object.keys(sessionStorage).filter((key) => key.startsWith('typed ')).length"


@pytest.fixture
def mat(db):
    return make_mat("M-017", fitted=True)


def test_losses_typed_at_the_bench_are_there_again_with_what_they_mean(open_page, bench_hand, mat):
    page = open_page(bench_hand)
    page.goto("/bench/M-017/")
    fields = page.locator("input[name^=found-]")
    fields.nth(0).fill("1.31")
    fields.nth(1).fill("9")
    page.goto("/mats/M-017/")
    page.go_back()
    assert [fields.nth(row).input_value() for row in (0, 1, 2)] == ["1.31", "9", ""]
    page.locator("tbody tr .at-verdict").nth(0).get_by_text("within").wait_for()


def test_a_form_that_is_refused_is_there_as_it_was_sent(open_page, keeper):
    page = open_page(keeper)
    page.goto("/events/add/")
    page.get_by_label("Name").fill("Dyke run")
    page.get_by_label("Place").fill("Quay")
    page.get_by_label("Weather").select_option(index=1)
    chosen = page.get_by_label("Weather").input_value()
    page.locator("[name=ends_on]").fill("2020-01-01")
    page.get_by_label("Place").press("Enter")
    page.locator(".form-errors, [role=alert]").first.wait_for()
    page.go_back()
    typed = [page.locator(f"[name={name}]").input_value() for name in ("name", "place", "weather", "ends_on")]
    assert typed == ["Dyke run", "Quay", chosen, "2020-01-01"]


def test_a_form_that_was_stored_acts_no_second_time(open_page, keeper):
    page = open_page(keeper)
    page.goto("/events/add/")
    page.get_by_label("Name").fill("Dyke run")
    page.get_by_label("Name").press("Enter")
    page.get_by_role("heading", name="Dyke run").wait_for()
    page.go_back()
    assert page.get_by_label("Name").input_value() == "Dyke run"
    page.get_by_label("Name").press("Enter")
    page.get_by_role("heading", name="Dyke run").wait_for()
    assert Event.objects.count() == 1


def test_a_form_that_saw_an_older_mat_is_refused_as_stale(open_page, keeper, mat):
    page = open_page(keeper)
    page.goto("/mats/M-017/correct/")
    page.get_by_label("Owner").fill("Fenmark")
    page.goto("/due/")
    with transaction.atomic():
        mat.correct(by=keeper, reason="seen", owner="Quayside")
    page.go_back()
    assert page.get_by_label("Owner").input_value() == "Fenmark"
    page.locator("main form [name=reason]").fill("sold")
    page.locator("main form [name=reason]").press("Enter")
    page.get_by_text("meanwhile").first.wait_for()
    assert Mat.objects.get().owner == "Quayside"


def test_a_page_opened_anew_is_empty_and_another_person_at_the_same_tab_finds_nothing(open_page, keeper, bench_hand):
    page = open_page(keeper)
    page.goto("/events/add/")
    page.get_by_label("Name").fill("Dyke run")
    page.goto("/due/")
    assert page.evaluate(LAID_ASIDE) == 1
    page.goto("/events/add/")
    assert page.get_by_label("Name").input_value() == ""
    page.get_by_label("Name").fill("Mill run")
    other = open_page(bench_hand)
    page.context.clear_cookies()
    page.context.add_cookies(other.context.cookies())
    page.goto("/mats/")
    assert page.evaluate(LAID_ASIDE) == 0
