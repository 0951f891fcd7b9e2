"""Reference pieces: the list, one piece with its run chart, add, correct, withdraw, agree a value, read it."""

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect, render
from django.utils import timezone

from fleet.access import MAY_BENCH, MAY_KEEP
from fleet.figures import short_day, two_places
from fleet.forms.record_forms import ReasonForm, values_of
from fleet.selectors.trail import deleted_rows, newest_first, trail_of, trail_of_rows
from fleet.services.register import withdraw_plain
from fleet.views.next_page import next_page
from fleet.views.pages import form_page, link_to, list_page, submit
from fleet.views.permissions import may_bench, may_keep
from fleet.views.record_pages import add_page, correct_page, withdraw_page

from ...models import AgreedValue, ReferenceReading
from ...templatetags.piece_text import what_to_do
from ..session import remember_bench, remembered_bench
from .forms import (
    AgreeForm,
    PieceCorrectionForm,
    PieceForm,
    PieceReadingCorrectionForm,
    PieceReadingForm,
    ValueCorrectionForm,
)
from .linked_selectors import unlinked_instruments
from .run_chart import run_chart
from .selectors import (
    all_pieces,
    get_piece_or_404,
    get_piece_reading_or_404,
    get_value_or_404,
    proposal,
    shown_pieces,
)
from .services import (
    add_piece,
    agree_value,
    correct_piece,
    correct_piece_reading,
    correct_value,
    delete_piece_reading,
    record_piece_reading,
)
from .tables import AgreedTable, PieceReadingTable, PieceTable


def list_pieces(request):
    on = timezone.localdate()
    table = PieceTable(shown_pieces(all_pieces(), on), may_keep=request.user.has_perm(MAY_KEEP))
    return list_page(request, "inspections/bench/pieces/list.html", table, unlinked=unlinked_instruments(on))


def piece_detail(request, name):
    on = timezone.localdate()
    (shown,) = shown_pieces([get_piece_or_404(name)], on)
    user = request.user
    context = {
        "shown": shown,
        "piece": shown.piece,
        "chart": run_chart(shown.readings),
        "values": AgreedTable(shown.values[::-1], may_keep=user.has_perm(MAY_KEEP)),
        "readings": PieceReadingTable(shown.readings[::-1], may_bench=user.has_perm(MAY_BENCH)),
        "proposed": proposal(shown, on),
        "trail": _trail(shown),
    }
    return render(request, "inspections/bench/pieces/piece.html", context)


@may_keep
def add(request):
    on = timezone.localdate()
    form = PieceForm(request.POST or None, initial={"agreed_on": on})
    lead = "A cable or an attenuator that is kept for this alone, and read first on each bench day."
    act = partial(add_piece, by=request.user, on=on)
    return add_page(request, form, act, title="Add a reference piece", parent=_parent(), lead=lead)


@may_keep
def correct(request, name):
    piece = get_piece_or_404(name)
    form = PieceCorrectionForm(request.POST or None, initial=values_of(piece, PieceCorrectionForm))
    return correct_page(
        request, piece, form, partial(correct_piece, piece, by=request.user), parent=_parent(), trail=trail_of
    )


@may_keep
def withdraw(request, name):
    lead = "The bench no longer asks for it. Its readings still count."
    return withdraw_page(request, get_piece_or_404(name), withdraw_plain, parent=_parent(), lead=lead)


@may_keep
def agree(request, name):
    on = timezone.localdate()
    (shown,) = shown_pieces([get_piece_or_404(name)], on)
    proposed = proposal(shown, on)
    since = shown.value.agreed_on if shown.is_agreed else None
    form = AgreeForm(request.POST or None, initial={"agreed_on": on}, proposed=proposed, since=since)
    act = partial(agree_value, shown.piece, by=request.user, on=on)
    if submit(request, form, act, row=shown.piece) is not None:
        messages.success(request, f"A new value of {shown.piece} is agreed.")
        return redirect(shown.piece)
    context = {"shown": shown, "piece": shown.piece, "proposed": proposed, "parent": _parent()}
    return form_page(request, "inspections/bench/pieces/agree.html", form, **context)


@may_keep
def correct_agreed(request, pk):
    value, on = get_value_or_404(pk), timezone.localdate()
    form = ValueCorrectionForm(request.POST or None, initial=values_of(value, ValueCorrectionForm))
    act = partial(correct_value, value, by=request.user, on=on)
    lead = "Was the value mistyped? Correct it. Did the piece change? Agree a new one."
    return correct_page(
        request,
        value,
        form,
        act,
        parent=_parent(),
        trail=trail_of,
        lead=lead,
        return_url=value.piece.get_absolute_url(),
    )


@may_bench
def read(request, name):
    piece, on = get_piece_or_404(name), timezone.localdate()
    form = PieceReadingForm(request.POST or None, initial=remembered_bench(request, on), on=on)
    back = next_page(request, piece)
    address = submit(request, form, partial(_record, request, piece, form, on, back))
    if address:
        return redirect(address)
    (shown,) = shown_pieces([piece], on)
    context = {"piece": piece, "shown": shown, "parent": _parent(), "back": back}
    return form_page(request, "inspections/bench/pieces/read.html", form, **context)


@may_bench
def correct_reading(request, pk):
    reading, on = get_piece_reading_or_404(pk), timezone.localdate()
    initial = values_of(reading, PieceReadingCorrectionForm)
    form = PieceReadingCorrectionForm(request.POST or None, initial=initial, on=on, kept=reading.instrument)
    act = partial(correct_piece_reading, reading, by=request.user, on=on)
    lead = "Was it mistyped? Correct it. Was the bench off? Leave it, look at the bench, and read the piece again."
    return correct_page(
        request,
        reading,
        form,
        act,
        parent=_parent(),
        trail=trail_of,
        lead=lead,
        return_url=reading.piece.get_absolute_url(),
    )


@may_bench
def delete_reading(request, pk):
    reading, on = get_piece_reading_or_404(pk), timezone.localdate()
    form, piece = ReasonForm(request.POST or None), reading.piece
    act = partial(_delete, reading, by=request.user, on=on)
    if submit(request, form, act, row=reading) is not None:
        messages.success(request, "The reading is deleted.")
        return redirect(piece)
    return form_page(request, "inspections/bench/pieces/delete_reading.html", form, reading=reading, parent=_parent())


def _delete(reading, **values):
    delete_piece_reading(reading, **values)
    return True


def _record(request, piece, form, on, back, confirmed="", **values):
    reading = record_piece_reading(piece, by=request.user, on=on, confirmed=confirmed, **values)
    remember_bench(request, reading.measured_on, reading.instrument_id, on)
    (shown,) = shown_pieces([piece], on)
    (saved,) = [each for each in shown.readings if each.reading.pk == reading.pk]
    say = messages.warning if saved.stops else messages.success
    say(request, f"{piece} saved: {what_to_do(saved)}")
    return back


def _trail(shown):
    readings = {read.reading.pk: read.reading for read in shown.readings}
    piece, of_piece = shown.piece, {"piece": shown.piece.pk}
    return newest_first(
        trail_of(piece),
        trail_of_rows(shown.values, name=lambda value: f"value of {short_day(value.agreed_on)}"),
        trail_of_rows(readings.values(), name=lambda reading: f"reading of {short_day(reading.measured_on)}"),
        deleted_rows(AgreedValue, lambda state: f"value of {short_day(state.agreed_on)} deleted", **of_piece),
        deleted_rows(
            ReferenceReading,
            lambda state: f"reading of {short_day(state.measured_on)} deleted: {two_places(state.loss_db)} dB",
            **of_piece,
        ),
    )


def _parent():
    return link_to("inspections:piece-list", "Reference pieces")
