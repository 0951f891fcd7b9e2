"""The instruments, what was changed about them, and what their readings say of them."""

import numpy as np
from django.db.models import Count, F, Max, Window
from django.shortcuts import get_object_or_404

from ...models import Instrument, Measurement
from ...numeric.methods import loss_of_shown_db, shown_by
from ...numeric.repeatability import pooled_repeatability
from ...numeric.words import Method, Verdict

# readings that differ in none of these are repeats of one another
ALIKE = ("segment", "measured_on", "taken", "method", "frequency_mhz")


def all_instruments():
    """Withdrawn ones too: their readings still count."""
    return Instrument.objects.annotate(readings=Count("measurements"), last_used_on=Max("measurements__measured_on"))


def get_instrument_or_404(name):
    return get_object_or_404(Instrument, name=name)


def repeatability_of(instrument, on):
    """Repeatability of the instrument by its own readings that count and are not doubtful, in dB of the cable; None
    where no cable was read twice. One query."""
    repeats = (
        Measurement.objects.valid_on(on)
        .filter(instrument=instrument, loss_db__isnull=False, doubt_reason="")
        .annotate(alike=Window(Count("pk"), partition_by=[F(name) for name in ALIKE]))
        .filter(alike__gt=1)
        .order_by()
    )
    rows = list(repeats.values_list(*ALIKE, "loss_db"))
    groups = {key: number for number, key in enumerate(dict.fromkeys(row[:-1] for row in rows))}
    shown = [shown_by(row[ALIKE.index("method")]) for row in rows]
    loss_db = loss_of_shown_db([row[-1] for row in rows], shown)
    return pooled_repeatability(np.array([groups[row[:-1]] for row in rows], int), loss_db)


def worded_readings(instrument):
    """How many of its readings are the word of a go/no-go tester."""
    return Measurement.objects.filter(instrument=instrument, go_no_go__in=(Verdict.WITHIN, Verdict.OVER)).count()


def has_numbers(instrument):
    return Measurement.objects.filter(instrument=instrument, loss_db__isnull=False).exists()


def taken_as_through(instrument):
    """How many of its numbers count as read through the cable, said so or not said at all."""
    through = Measurement.objects.filter(instrument=instrument, method__in=("", Method.THROUGH), voided_on=None)
    return through.filter(loss_db__isnull=False).count()
