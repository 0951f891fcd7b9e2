"""The frame of every form, and of every list."""

import inspect
from functools import partial

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.core.paginator import Paginator
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django_tables2 import RequestConfig

from ..forms.asking import asks_of
from ..forms.record_forms import add_refusal, ask
from ..services.confirmation import UnusualValues, WantsConfirmation
from ..services.submissions import act_once
from ..validators import NAME_LENGTH
from .weighing import act_weighed, confirmed_of

PER_PAGE, MOST_PER_PAGE = 50, 500
# of a table that stands among other things on its page
FEW_PER_PAGE = 10


class BoundedPaginator(Paginator):
    """Pages of as many rows as the address asks for, within what a page can be."""

    def __init__(self, rows, per_page, **kwargs):
        super().__init__(rows, min(max(per_page, 1), MOST_PER_PAGE), **kwargs)


def submit(request, form, act, *, row=None):
    """What `act(**values)` returned; None when the form is not sent, not right, or refused: then it says why.

    A form with a token acts once, and `act` returns the address to go to. When somebody else changed `row` meanwhile,
    what was typed stays, what is there now is said, and it can be sent again knowingly. What is unusual about the
    values, and then what the act raises as WantsConfirmation, is asked above the form; sent again with the tick, an act
    that has a parameter `confirmed` gets it.
    """
    if row is not None:
        form.look_at(row)
    if not form.is_bound:
        return None
    if not form.is_valid():
        _renew_if_stale(form, row)
        return None
    confirmed = confirmed_of(request)
    try:
        if asks := asks_of(form, timezone.localdate()):
            UnusualValues(asks).raise_unless(confirmed)
        return act_weighed(request, partial(_run, request, form, act, confirmed))
    except WantsConfirmation as asked:
        ask(form, asked, confirmed)
        if row is not None:
            # what the act had changed of it is taken back in the database only
            row.refresh_from_db()
        return None
    except ValidationError as error:
        add_refusal(form, error)
        if row is not None and not _is_still_there(row):
            form.add_error(None, "It was deleted meanwhile.")
        else:
            _renew_if_stale(form, row)
        return None


def _run(request, form, act, confirmed):
    act, token = partial(act, **_values(form)), form.cleaned_data.get("token")
    if "confirmed" in inspect.signature(act).parameters:
        act = partial(act, confirmed=confirmed)
    return act_once(token, by=request.user, act=act) if token else act()


def say_refusal(request, form):
    """Why a button did nothing, for the page that it leads back to."""
    for error in form.non_field_errors():
        messages.error(request, error)


def form_page(request, template, form, **context):
    """The page of a form: 422 when it was sent and could not be kept, with all that was typed."""
    return render(request, template, {"form": form, **context}, status=422 if form.is_bound else 200)


def list_page(request, template, table, **context):
    return render(request, template, {"table": in_pages(request, table), **context})


def in_pages(request, table, per_page=PER_PAGE):
    """The table, sorted and on the page of it that the address asks for."""
    RequestConfig(request, paginate={"per_page": per_page, "paginator_class": BoundedPaginator}).configure(table)
    return table


def searched_text(request):
    """What stands in the search box, up to more than any code or name has; databases refuse to look for a book."""
    return request.GET.get("q", "").strip()[:NAME_LENGTH].strip()


def link_to(name, label):
    return {"url": reverse(name), "label": label}


def _is_still_there(row):
    try:
        row.refresh_from_db()
    except row.DoesNotExist:
        return False
    return True


def _renew_if_stale(form, row):
    if form.has_error(NON_FIELD_ERRORS, "stale"):
        form.renew_version(row)


def _values(form):
    """What the form hands over: its own `act_values` where it has them, else its fields."""
    values = dict(form.act_values if hasattr(form, "act_values") else form.cleaned_data)
    values.pop("token", None)
    values.pop("row", None)
    if "version" in values:
        values["seen_version"] = values.pop("version")
    return values
