"""Pages of bench days: the list, and one day with its readings."""

from django.shortcuts import render
from django.utils import timezone

from fleet.selectors.trail import trail_of
from fleet.views.pages import in_pages

from ...assessment.services import ensure_assessed
from ..pieces.linked_selectors import unlinked_instruments
from ..pieces.run_chart import run_chart
from ..pieces.tables import PieceReadingTable
from .selectors import all_bench_days, days_not_trusted, get_instrument_or_404, get_readings_or_404, with_held
from .services import bench_day_page
from .tables import ApartTable, BenchDayTable, DayReadingTable


def list_bench_days(request):
    on = timezone.localdate()
    ensure_assessed(on)
    table = in_pages(request, BenchDayTable(all_bench_days()))
    with_held((row.record for row in table.paginated_rows), on)
    context = {"table": table, "not_trusted": days_not_trusted()}
    return render(request, "inspections/bench/days/list.html", context)


def bench_day(request, day, instrument):
    """`instrument` 0: the readings of that day without one."""
    on = timezone.localdate()
    ensure_assessed(on)
    instrument = get_instrument_or_404(instrument)
    page = bench_day_page(day, instrument, get_readings_or_404(day, instrument, on), on)
    context = {
        "page": page,
        "readings": in_pages(request, DayReadingTable(page.readings)),
        "apart": ApartTable(page.apart, said=page.said),
        "pieces": [(*pair, *_drawn(pair[0], day)) for pair in page.pieces],
        "unlinked": unlinked_instruments(on),
        "trail": trail_of(page.said) if page.said.pk else [],
    }
    return render(request, "inspections/bench/days/day.html", context)


def _drawn(shown, day):
    """(RunChart with that bench day marked, the same numbers as a table)."""
    return run_chart(shown.readings, day), PieceReadingTable(shown.readings[::-1], may_bench=False)
