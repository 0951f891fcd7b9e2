"""What every page has in common: the frame, the statuses, one form field, one table."""

import re
from pathlib import Path

import django_tables2 as tables
import pytest
from django import forms
from django.template.loader import render_to_string
from django.test import RequestFactory
from factories import make_mat

TEMPLATES = Path(__file__).parents[2] / "templates"
MOST_CHARACTERS = 160
STATUSES = ("change now", "change before", "change within look-ahead", "measure", "unknown", "ok")


@pytest.mark.django_db
def test_sign_in_page_keeps_the_name_and_says_what_is_wrong(client):
    page = client.post("/sign-in/", {"username": "ida", "password": "no such password"}).content.decode()
    assert 'value="ida"' in page
    assert 'class="form-errors" role="alert"' in page
    assert "Name or password is wrong." in page


@pytest.mark.parametrize("status", STATUSES)
def test_every_status_shows_a_mark_that_exists_and_its_word(status):
    sprite = render_to_string("includes/_sprite.html")
    shown = render_to_string("includes/_status.html", {"status": status})
    (mark,) = re.findall(r'href="#([\w-]+)"', shown)
    assert f'id="{mark}"' in sprite
    assert f"<span>{status}</span>" in shown


def test_no_two_statuses_share_a_drawing():
    sprite = render_to_string("includes/_sprite.html")
    drawings = re.findall(r'<symbol id="mark-[\w-]+" viewBox="0 0 12 12">(.*?)</symbol>', sprite, re.DOTALL)
    # and two more: a plan that should not be, and a position that holds no cable
    assert len(set(drawings)) == len(drawings) == len(STATUSES) + 2


class LossForm(forms.Form):
    loss_db = forms.CharField(label="Loss, dB", help_text="As the instrument shows it.")
    reason = forms.ChoiceField(choices=[("sample", "sample")], widget=forms.RadioSelect, help_text="Why it was taken.")

    def clean_loss_db(self):
        raise forms.ValidationError("1.9.5 is not a number: type it like 1.95.")


@pytest.mark.parametrize("name", ["loss_db", "reason"])
def test_help_and_error_of_a_field_are_tied_to_it_by_existing_ids(name):
    shown = render_to_string("includes/_form_field.html", {"field": LossForm({"loss_db": "1.9.5"})[name]})
    (tied,) = re.findall(r'aria-describedby="([^"]+)"', shown)
    assert tied.split() == [f"id_{name}_helptext", f"id_{name}_error"]
    assert all(f'id="{one}"' in shown for one in tied.split())


def test_a_form_keeps_what_was_typed_and_counts_what_is_wrong():
    shown = render_to_string("includes/_form.html", {"form": LossForm({"loss_db": "1.9.5", "reason": "sample"})})
    assert 'value="1.9.5"' in shown
    assert "1 field below needs correcting" in shown
    assert '<a href="#id_loss_db">Loss, dB</a>' in shown
    assert 'id="id_loss_db"' in shown


def test_a_refused_form_says_so_in_the_title_and_leads_to_the_fields(keeper_client, today):
    for url in (f"/mats/{make_mat().number}/faults/report/", "/mats/add/"):
        leads = leads_of_refused(keeper_client, url, {"reported_on": today, "position": ""})
        assert len(leads) > 0, url


def leads_of_refused(client, url, values):
    """Ids that the summary of a refused form leads to; each is there."""
    asked = client.get(url).content.decode()
    assert "<title>Error" not in asked
    token = re.findall(r'name="token" value="([^"]+)"', asked)
    page = client.post(url, values | {"token": token}).content.decode()
    assert "<title>Error: " in page
    (summary,) = re.findall(r'<div class="form-errors" role="alert">(.*?)</div>', page, re.DOTALL)
    leads = re.findall(r'href="#([^"]+)"', summary)
    assert [name for name in leads if f'id="{name}"' not in page] == []
    return leads


def test_messages_are_no_list_and_each_is_announced(keeper_client, today):
    values = {"name": "Fen", "width_m": "2"}
    page = keeper_client.post("/depots/add/", values, follow=True).content.decode()
    assert re.search(r'<div class="success" role="status"><p>\s*[^<]+</p></div>', page)


class CableTable(tables.Table):
    serial = tables.Column(verbose_name="Cable", attrs={"cell": {"class": "at-lead"}})
    length_m = tables.Column(verbose_name="Length, m", orderable=False, attrs={"cell": {"data-unit": "m"}})


def render_cables(rows, **query):
    request = RequestFactory().get("/cables/", query)
    table = CableTable(rows, order_by=query.get("sort", ()), empty_text="No cables yet.")
    table.paginate(page=1, per_page=2)
    return render_to_string("includes/table.html", {"table": table}, request=request)


CABLES = [{"serial": f"C-{number}", "length_m": 1.5} for number in range(3)]


def test_sorting_by_a_heading_keeps_the_filters_and_tells_the_order():
    shown = render_cables(CABLES, depot="2", sort="serial")
    assert shown.count('aria-sort="ascending"') == 1
    assert 'href="?depot=2&amp;sort=-serial"' in shown


def test_every_cell_carries_its_heading_for_the_phone():
    shown = render_cables(CABLES)
    assert shown.count('data-label="Length, m"') == 2
    assert shown.count('<td data-unit="m" role="cell"') == 2


def test_later_rows_are_one_link_away_and_the_filters_stay():
    shown = render_cables(CABLES, depot="2")
    assert 'rel="next" href="?depot=2&amp;page=2"' in shown
    assert "1 to 2 of 3" in shown
    assert 'rel="prev"' not in shown


def test_an_empty_table_says_so_without_an_empty_head():
    shown = render_cables([])
    assert "No cables yet." in shown
    assert "<th" not in shown


def test_the_failure_page_needs_nothing_but_itself():
    text = (TEMPLATES / "500.html").read_text()
    assert "{% extends" not in text
    assert "{% static" not in text
    assert "Something failed" in render_to_string("500.html")


def test_no_template_carries_inline_style():
    offenders = [str(path.relative_to(TEMPLATES)) for path in TEMPLATES.rglob("*.html") if "style=" in path.read_text()]
    assert offenders == []


def test_no_tag_of_a_template_is_broken_over_two_lines():
    """Broken, it is no tag: the page shows its words as they stand."""
    lines = ((path, line) for path in TEMPLATES.rglob("*.html") for line in path.read_text().splitlines())
    broken = r"\{\{(?!.*\}\})|\{%(?!.*%\})"
    assert [f"{path.relative_to(TEMPLATES)}: {line}" for path, line in lines if re.search(broken, line)] == []


def test_no_template_line_is_longer_than_one_reads():
    lines = ((path, line) for path in TEMPLATES.rglob("*.html") for line in path.read_text().splitlines())
    assert [f"{path.relative_to(TEMPLATES)}: {line[:60]}…" for path, line in lines if len(line) > MOST_CHARACTERS] == []
