"""What the last form of the bench said about all its readings, kept in the session for the next mat."""

from datetime import date

from fleet.access import name_of

from ..choices import MeasurementReason

KEY = "bench"


def remembered(request, on, reference_mhz):
    """Initial values; the day is only remembered on the day it was typed, or yesterday would come back unseen."""
    stored = dict(request.session.get(KEY, {}))
    typed_on = stored.pop("typed_on", None)
    day = stored.pop("measured_on", None)
    if typed_on != on.isoformat():
        # leads are taken out anew each day
        stored.pop("leads_out", None)
    name = name_of(request.user)
    measured_on = date.fromisoformat(day) if day and typed_on == on.isoformat() else on
    usual = {"frequency_mhz": reference_mhz, "measured_by": name, "reason": MeasurementReason.ROUTINE}
    return usual | stored | {"measured_on": measured_on}


def remembered_of_mat(request, on, reference_mhz, sample):
    """Initial values for a mat. `sample`: the one that waits for it: its readings are taken as such, and those of a mat
    that no sample waits for are not, whatever the mat before was read for."""
    values = remembered(request, on, reference_mhz)
    asked = request.GET.get("reason")
    if asked in MeasurementReason.values:
        return values | {"reason": asked}
    if sample:
        return values | {"reason": MeasurementReason.SAMPLE}
    no_more = values["reason"] == MeasurementReason.SAMPLE
    return values | ({"reason": MeasurementReason.ROUTINE} if no_more else {})


def remember(request, head, on):
    request.session[KEY] = head | {
        "measured_on": head["measured_on"].isoformat(),
        "instrument": head["instrument"] and head["instrument"].pk,
        "typed_on": on.isoformat(),
    }


def remembered_bench(request, on):
    """The day and the instrument (its key or None) that the next readings are of."""
    head = remembered(request, on, None)
    return {"measured_on": head["measured_on"], "instrument": head.get("instrument")}


def remember_bench(request, measured_on, instrument_id, on):
    """Day and instrument alone, as a reference piece is read before anything else."""
    bench = {"measured_on": measured_on.isoformat(), "instrument": instrument_id, "typed_on": on.isoformat()}
    stored = dict(request.session.get(KEY, {}))
    if stored.get("typed_on") != on.isoformat():
        # what was said of the leads was said of another day
        stored.pop("leads_out", None)
    request.session[KEY] = stored | bench


def has_said_how(request):
    """This session said how cables are connected."""
    return bool(request.session.get(KEY, {}).get("method"))
