"""The shelf: what came, what lies there of one kind and where it went, and what is done with it."""

from functools import partial

from django.contrib import messages
from django.http import Http404
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from ..forms.shelf import CountForm, LedgerFilter, MoveForm, ReceiveForm, ReceiveSetForm, ScrapForm
from ..parsing.counts import counted
from ..selectors.mats import depots_to_choose, designs_to_choose
from ..selectors.segments import cable_types_to_choose
from ..selectors.shelf import (
    MOST_CABLES,
    cable_types_of_ledger,
    cables_of,
    count_of,
    depots_of_ledger,
    entries_listed,
    get_kind_or_404,
    lots_to_offer,
    newest_entry,
    piles_of,
)
from ..services.shelf import receive_cables, receive_sets
from ..services.shelf_of_kind import count_kind, move_kind, scrap_kind
from ..services.submissions import answer_given
from ..tables.shelf import LedgerTable
from .pages import FEW_PER_PAGE, form_page, in_pages, list_page, submit
from .permissions import may_bench, may_keep


def shelf(request):
    """Only names the path: the page of `inspections` at the same path comes first and shows what is due too."""
    raise Http404


@may_bench
def receive(request):
    on, asked = timezone.localdate(), request.GET
    initial = {"day": on} | {name: asked[name] for name in ("cable_type", "length_m", "depot", "lot") if name in asked}
    given = {"cable_types": cable_types_to_choose(on), "depots": depots_to_choose(on)}
    form = ReceiveForm(request.POST or None, initial=initial, **given)
    address = submit(request, form, partial(_receive, request, on))
    return redirect(address) if address else _receive_page(request, form, sets=False)


def _receive(request, on, *, pile, count, **values):
    receive_cables(pile, count, by=request.user, on=on, **values)
    messages.success(request, f"{counted(count, 'cable')} received: {pile}.")
    return reverse("fleet:shelf-kind", args=[pile.cable_type.name, f"{pile.length_m:.10g}"])


@may_bench
def receive_set(request):
    on = timezone.localdate()
    given = {"designs": designs_to_choose(on), "depots": depots_to_choose(on)}
    form = ReceiveSetForm(request.POST or None, initial={"day": on, "design": request.GET.get("design", "")}, **given)
    address = submit(request, form, partial(_receive_set, request, on))
    return redirect(address) if address else _receive_page(request, form, sets=True)


def _receive_set(request, on, *, design, count, **values):
    entries = receive_sets(design, count, by=request.user, on=on, **values)
    cables = sum(entry.change for entry in entries)
    messages.success(request, f"{counted(count, 'set')} of {design} received: {counted(cables, 'cable')}.")
    return reverse("fleet:shelf")


def _receive_page(request, form, *, sets):
    return form_page(request, "fleet/shelf_receive.html", form, sets=sets, lots=lots_to_offer())


def kind(request, name, length_m):
    """What lies there of one kind, and the ledger of it."""
    of_kind, on = get_kind_or_404(name, length_m), timezone.localdate()
    table = in_pages(request, LedgerTable(of_kind.entries.with_names(), of_kind=True), FEW_PER_PAGE)
    context = {"kind": of_kind, "piles": piles_of(of_kind), "cables": cables_of(of_kind, on)}
    context |= {"count": count_of(of_kind, on), "most": MOST_CABLES}
    return list_page(request, "fleet/shelf_kind.html", table, **context)


@may_keep
def count(request, name, length_m):
    return _kind_page(request, name, length_m, CountForm, _count, "count")


@may_bench
def move(request, name, length_m):
    return _kind_page(request, name, length_m, MoveForm, _move, "move")


@may_bench
def scrap(request, name, length_m):
    return _kind_page(request, name, length_m, ScrapForm, _scrap, "scrap")


def _kind_page(request, name, length_m, form_class, act, what):
    if answered := answer_given(request.POST.get("token")):
        return redirect(answered)
    of_kind, on = get_kind_or_404(name, length_m), timezone.localdate()
    there = {"piles": piles_of(of_kind), "cables": cables_of(of_kind, on), "seen": newest_entry()}
    initial = {"day": on}
    form = form_class(request.POST or None, kind=of_kind, depots=depots_to_choose(on), initial=initial, **there)
    address = submit(request, form, partial(act, request, of_kind, on))
    if address:
        return redirect(address)
    return form_page(request, "fleet/shelf_act.html", form, kind=of_kind, act=what, lots=lots_to_offer(of_kind))


def _count(request, of_kind, on, *, counts, segments, reason, seen):
    entries = count_kind(counts, segments, by=request.user, on=on, reason=reason, seen=seen)
    differ = sum(abs(entry.change) for entry in entries) + len(segments)
    said = f"differs by {counted(differ, 'cable')}; the ledger says so." if differ else "agrees with the ledger."
    messages.success(request, f"What was counted {said}")
    return of_kind.get_absolute_url()


def _move(request, of_kind, on, *, counts, segments, **values):
    move_kind(counts, segments, by=request.user, on=on, **values)
    moved = sum(counts.values()) + len(segments)
    messages.success(request, f"{counted(moved, 'cable')} moved {_to(values['to'])}.")
    return of_kind.get_absolute_url()


def _to(depot):
    return f"to {depot}" if depot else "to where nobody said"


def _scrap(request, of_kind, on, *, counts, segments, **values):
    scrap_kind(counts, by=request.user, on=on, **values)
    messages.success(request, f"{counted(sum(counts.values()), 'cable')} thrown away.")
    return of_kind.get_absolute_url()


def ledger(request):
    form = LedgerFilter(request.GET, cable_types=cable_types_of_ledger(), depots=depots_of_ledger())
    table = LedgerTable(entries_listed(**form.chosen()))
    return list_page(request, "fleet/shelf_ledger.html", table, form=form)
