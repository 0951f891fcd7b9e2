"""Values that no form takes any more may stand in a pool from before: every page and command answers all the same."""

from datetime import date, timedelta
from io import StringIO

import numpy as np
import pytest
from django.core.management import call_command
from django.utils import timezone
from factories import make_event, make_instrument, make_mat, make_reading, make_usage_event

from fleet.models import CableSegment, CableType, DesignPosition, Fitting, Mat, MatDesign, UsageEvent
from inspections.assessment.services import assess_pool
from inspections.models import Assessment, Instrument, Measurement
from inspections.workshop.services import raise_work_orders

pytestmark = pytest.mark.django_db
FIRST, LAST = date(1, 1, 1), date(9999, 12, 31)
READ_ON = (100, 400, 700)


def make_pool():
    """Three mats, each cable read three times, with an event behind them and one ahead; a work order for one cable."""
    on, rng = timezone.localdate(), np.random.default_rng(3)
    fitted_on = on - timedelta(800)
    mats = [make_mat(f"M-{number}", fitted=True, fitted_on=fitted_on) for number in (1, 2, 3)]
    instrument = make_instrument("bridge")
    for fitting in Fitting.objects.select_related("segment"):
        for days in READ_ON:
            loss_db = (0.3 + 0.1 * days / 365) * fitting.segment.length_m + 0.3 + 0.02 * rng.standard_normal()
            make_reading(fitting.segment, round(loss_db, 3), fitted_on + timedelta(days), instrument=instrument)
    for mat in mats:
        make_usage_event(mat, make_event(on - timedelta(30)))
        make_usage_event(mat, make_event(on + timedelta(30)), state="planned")
    first = mats[0].fittings.select_related("segment__cable_type").first()
    assess_pool(on)
    (order,) = raise_work_orders([first.segment_id], by=None, on=on)
    return {
        "serial": first.segment.serial,
        "number": mats[0].number,
        "design": mats[0].design.code,
        "cable_type": first.segment.cable_type.name,
        "order": order.number,
    }


@pytest.fixture(scope="module")
def pool(shared_rows):
    with shared_rows(make_pool) as made:
        yield made


def one(model):
    """The row whose page is asked for."""
    return model.objects.filter(pk=model.objects.order_by("pk").values("pk")[:1])


def all_of(model):
    return model.objects.all()


def first_and_last_days(on):
    one(Fitting).update(fitted_on=FIRST)
    one(Mat).update(acquired_on=LAST)
    one(Measurement).update(measured_on=FIRST)
    mat = Mat.objects.get(number="M-1")
    make_usage_event(mat, make_event(FIRST), state="went")
    make_usage_event(mat, make_event(LAST), state="planned")
    make_usage_event(mat, make_event(FIRST, days=400), state="planned")


# one of a kind each: 58 such pools were tried when this was written, over every address there is
STORED = {
    "a length of 1250 m": lambda on: one(CableSegment).update(length_m=1250),
    "lengths of 1e100 m and 1e-9 m": lambda on: (
        all_of(CableSegment).update(length_m=1e100),
        one(CableSegment).update(length_m=1e-9),
    ),
    "readings of 1.7e308 dB and 0 dB": lambda on: (
        all_of(Measurement).update(loss_db=0),
        one(Measurement).update(loss_db=1.7e308),
    ),
    "equal readings without uncertainty and an as-new loss below nothing": lambda on: (
        all_of(Measurement).update(loss_db=1.0),
        one(CableSegment).update(as_new_loss_db=-5),
        all_of(Instrument).update(standard_uncertainty_db=0),
    ),
    "the first and the last of days": first_and_last_days,
    "a cable still to be fitted": lambda on: one(Fitting).update(fitted_on=LAST),
    "one cable, read on one day": lambda on: (
        Measurement.objects.exclude(segment__in=one(CableSegment), measured_on=on - timedelta(100)).delete(),
        Fitting.objects.exclude(segment__in=one(CableSegment)).delete(),
    ),
    "no cable": lambda on: (Measurement.objects.all().delete(), Fitting.objects.all().delete()),
    "more events than any cable sees": lambda on: (
        all_of(CableSegment).update(events_before=2**31 - 1),
        all_of(UsageEvent).update(counts_for=32767, hours_out=1.7e308),
    ),
    "no frequency and the coldest bench": lambda on: (
        all_of(Measurement).update(temperature_c=-480),
        one(Measurement).update(frequency_mhz=0),
    ),
    "a mat 1.7e308 m wide for cables of 1e-300 m": lambda on: (
        all_of(MatDesign).update(width_m=1.7e308, folds_m=[1e308], weight_kg=1e-300),
        all_of(DesignPosition).update(length_m=1e-300),
        all_of(CableType).update(db_per_m_400mhz=1.7e308, db_per_m_1000mhz=1e-300),
    ),
}
# what draws, counts or lists; the pages of forms show one row each
PAGES = (
    "/", "/due/", "/due/print/", "/due.csv", "/mats/", "/mats/{number}/", "/mats/{number}/positions/1/fit/",
    "/bench/", "/bench/{number}/", "/cables/", "/cables/{serial}/", "/pool/",
    "/lives/", "/lives/?clock=events", "/lives/card/", "/lives/limits/", "/lives/rules/", "/lives/cost/",
    "/events/", "/events/log/",
    "/designs/", "/designs/{design}/", "/cable-types/{cable_type}/", "/work-orders/", "/work-orders/{order}/",
    "/policy/", "/files/export/", "/find/?q=M-",
)  # fmt: skip


@pytest.mark.parametrize("stored", STORED)
def test_every_page_and_command_answers_whatever_is_stored(pool, keeper_client, today, stored):
    STORED[stored](today)
    assess_pool(today)
    for path in PAGES:
        page = keeper_client.get(path.format(**pool))
        assert page.status_code == 200, path
        page.getvalue()
    call_command("due", stdout=StringIO())
    call_command("due", "--format", "csv", stdout=StringIO())
    assert Assessment.objects.count() == Fitting.objects.in_service(today).count()
