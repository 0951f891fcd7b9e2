"""What the due list and Start here say of the limits: due though measured sound, or long before their use asks."""

import re
from datetime import timedelta

import pytest
from django.utils.html import strip_tags
from factories import make_event, make_mat, make_plain_design, make_reading, make_usage_event, set_policy_value

from inspections.assessment.policy_in_force import current_policy
from inspections.assessment.services import assess_pool
from inspections.models import Assessment
from inspections.policy.notice_selectors import measured_sound, seldom_used
from inspections.policy.preview_services import preview
from inspections.policy.services import PolicyChange
from inspections.templatetags.policy_text import seldom_in_words, sound_in_words

pytestmark = pytest.mark.django_db
YEAR = timedelta(days=365)


def text_of(page):
    return " ".join(strip_tags(page.content.decode()).split())


def measured_mat(today, losses_db, years=4, **values):
    """A mat of that age; each cable has these losses, a year apart, the newest 17 days ago."""
    mat = make_mat(fitted=True, **{"fitted_on": today - years * YEAR} | values)
    for fitting in mat.fittings.all():
        for row, loss_db in enumerate(reversed(losses_db)):
            make_reading(fitting.segment, loss_db, today - row * YEAR - timedelta(days=17))
    return mat


RISING, ONCE = (0.3, 0.37, 0.48), (0.48,)


class TestMeasuredSound:
    def test_how_many_are_due_by_age_though_sound_and_how_many_readings_could_decide(self, today):
        measured_mat(today, RISING)
        measured_mat(today, ONCE)
        make_mat(fitted=True, fitted_on=today - 4 * YEAR)
        assess_pool(today)
        found = measured_sound(today, current_policy())
        assert (found.cables, found.of_due, found.with_own_say, found.may_decide) == (8, 12, 4, True)
        said = sound_in_words(found)
        assert said == (
            "8 cables are due by age or events alone, though the newest reading of each is within the limit. "
            "For 4 of them their own readings could decide instead."
        )

    def test_those_that_could_decide_are_those_that_the_preview_takes_off_the_list(self, today):
        measured_mat(today, RISING)
        measured_mat(today, ONCE)
        assess_pool(today)
        shown = preview([PolicyChange("own_readings_decide", 1.0)], today)
        assert shown.due_now - shown.due_then == measured_sound(today, current_policy()).with_own_say == 4

    @pytest.mark.parametrize(
        ("losses_db", "years"),
        [(RISING, 1), ((3.6, 3.7, 3.8), 4), ((2.8, 2.95), 4)],
        ids=["not due", "over", "too close"],
    )
    def test_of_what_is_not_due_or_not_sound_nothing_is_said(self, losses_db, years, today):
        measured_mat(today, losses_db, years)
        assess_pool(today)
        assert measured_sound(today, current_policy()) is None

    @pytest.mark.parametrize(("days_ahead", "alone"), [(61, False), (62, True), (None, True)])
    def test_before_an_event_the_trend_must_not_ask_for_it_too(self, days_ahead, alone, today):
        mat = measured_mat(today, ONCE, fitted_on=today - 3 * YEAR + timedelta(days=20))
        make_usage_event(mat, make_event(today + timedelta(days=60), days=2), state="planned")
        assess_pool(today)
        trend_due_on = days_ahead and today + timedelta(days=days_ahead)
        Assessment.objects.update(trend_due_on=trend_due_on)
        assert bool(measured_sound(today, current_policy())) == alone

    def test_an_old_reading_is_not_sound(self, today):
        mat = make_mat(fitted=True, fitted_on=today - 4 * YEAR)
        for fitting in mat.fittings.all():
            make_reading(fitting.segment, 0.5, today - 2 * YEAR)
        assess_pool(today)
        assert measured_sound(today, current_policy()) is None

    def test_few_among_many_are_not_spoken_of(self, today):
        mat = measured_mat(today, RISING, design=make_plain_design(1))
        make_mat(fitted=True, fitted_on=today - 4 * YEAR)
        assess_pool(today)
        assert Assessment.objects.filter(mat=mat, measured_sound=True).count() == 1
        assert measured_sound(today, current_policy()) is None

    def test_the_due_list_leads_the_keeper_to_the_setting_with_what_would_change(self, keeper_client, today):
        measured_mat(today, RISING)
        page = keeper_client.get("/due/")
        (link,) = re.findall(r'href="(/policy/\?pool\.own_readings_decide=1)"', page.content.decode())
        assert "Of 4 cables, 4 are due now and 0 would be then." in text_of(keeper_client.get(link))

    def test_where_own_readings_decide_it_is_not_proposed_again(self, keeper, keeper_client, today):
        measured_mat(today, ONCE)
        set_policy_value("own_readings_decide", 1, by=keeper, on=today)
        page = keeper_client.get("/due/")
        assert "Their readings do not show yet how their loss rises." in text_of(page)
        assert "own_readings_decide=1" not in page.content.decode()

    def test_a_visitor_reads_it_without_the_link(self, visitor_client, today):
        measured_mat(today, RISING)
        page = visitor_client.get("/due/")
        assert "though the newest reading of each is within the limit" in text_of(page)
        assert "own_readings_decide" not in page.content.decode()


def used_mat(today, times_a_year, years=4, **values):
    """A mat with so many events in each of these years, and cables of that age."""
    mat = make_mat(fitted=True, fitted_on=today - years * YEAR, **values)
    for year in range(years):
        for number in range(times_a_year):
            day = today - timedelta(days=year * 365 + (number * 365) // max(times_a_year, 1) + 1)
            make_usage_event(mat, make_event(day))
    return mat


class TestSeldomUsed:
    def test_how_often_they_went_and_when_their_use_would_ask(self, today):
        used_mat(today, 6, design=make_plain_design(4))
        used_mat(today, 8, years=5, design=make_plain_design(4))
        assess_pool(today)
        found = seldom_used(today, current_policy())
        assert (found.cables, found.mats, found.times_a_year, found.outings) == (8, 2, (6, 8), (24, 40))
        assert found.by_use_on == Assessment.objects.order_by("events_due_on").first().events_due_on
        words = seldom_in_words(found, today)
        assert words == (
            "8 cables in 2 mats are due by age alone. The limit of 3 years is meant for mats that go out every week. "
            "These mats went out about 6 to 8 times in the last year, and about 24 to 40 times since the cables were "
            "fitted. By use alone none of them is due for 13 years."
        )

    @pytest.mark.parametrize("times_a_year", [0, 26, 60])
    def test_of_mats_that_go_out_often_or_of_which_no_use_is_known_nothing_is_said(self, times_a_year, today):
        used_mat(today, times_a_year, design=make_plain_design(1))
        assess_pool(today)
        assert Assessment.objects.get().causes_reached != ""
        assert seldom_used(today, current_policy()) is None

    def test_one_event_fewer_and_it_is_said(self, today):
        used_mat(today, 25, design=make_plain_design(1))
        assess_pool(today)
        assert seldom_used(today, current_policy()).times_a_year == (25, 25)

    def test_a_mat_that_rested_for_a_year_counts_as_seldom_used(self, today):
        mat = make_mat(fitted=True, fitted_on=today - 4 * YEAR)
        make_usage_event(mat, make_event(today - 2 * YEAR))
        assess_pool(today)
        found = seldom_used(today, current_policy())
        assert (found.times_a_year, found.outings, found.by_use_on) == ((0, 0), (1, 1), None)
        assert "By use alone" not in seldom_in_words(found, today)

    def test_usual_use_that_gave_way_is_not_counted_twice(self, today):
        mat = make_mat(fitted=True, fitted_on=today - 4 * YEAR)
        day = today - timedelta(days=40)
        for basis in ("usual", "counted"):
            make_usage_event(mat, make_event(day.replace(day=10)), basis=basis)
        assess_pool(today)
        assert seldom_used(today, current_policy()).times_a_year == (1, 1)

    def test_an_age_limit_that_the_keeper_set_is_meant_as_it_is(self, keeper, today):
        used_mat(today, 6)
        set_policy_value("age_limit_years", 2, by=keeper, on=today)
        assert seldom_used(today, current_policy()) is None

    def test_cables_that_measured_sound_are_left_to_their_own_notice(self, today):
        mat = used_mat(today, 6)
        for fitting in mat.fittings.all():
            make_reading(fitting.segment, 0.5, today - timedelta(days=9))
        assess_pool(today)
        assert (seldom_used(today, current_policy()), measured_sound(today, current_policy()).cables) == (None, 4)

    def test_the_due_list_and_the_answer_offer_three_ways(self, keeper_client, today):
        mat = used_mat(today, 6)
        design = mat.design
        for address in ("/due/", "/start/answer/"):
            page = keeper_client.get(address)
            links = re.findall(r'href="([^"]+)"', page.content.decode())
            assert "By use alone none of them is due for 20 years. Age and damp still count." in text_of(page)
            (longest,) = [link for link in links if "lengths=" in link]
            assert longest == "/due/?cause=age&amp;lengths=1.4-2.1"
            narrowed = text_of(keeper_client.get(longest.replace("&amp;", "&")))
            assert ("2 of 4 cables" in narrowed, "Three ways" in narrowed) == (True, False)
            (own,) = [link for link in links if link.startswith("/policy/?")]
            assert "Of 4 cables, 4 are due now and 0 would be then." in text_of(keeper_client.get(own))
            (by_length,) = [link for link in links if link.startswith("/policy/designs/")]
            shown = text_of(keeper_client.get(by_length.replace("&amp;", "&")))
            assert "Of 4 cables, 4 are due now and 2 would be then." in shown
            assert f"Age limit of {design}: 3 years → 6 years" in shown

    def test_cables_of_one_length_have_no_longest(self, keeper_client, today):
        used_mat(today, 6, design=make_plain_design(4))
        page = text_of(keeper_client.get("/due/"))
        assert "Have some measured." in page
        assert "Change the longest first." not in page
