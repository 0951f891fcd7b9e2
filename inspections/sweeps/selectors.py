"""Kept sweeps as lists and pages show them, and the cables that words name."""

import re
from datetime import timedelta

from django.shortcuts import get_object_or_404

from fleet.models import CableSegment, Fitting
from fleet.models.fields import code_key

from ..models import Sweep

# as with photos: a copy of the pool that is put back within that time finds its files
KEPT_DAYS = 90
# beside the newest; more lines than these nobody tells apart
MOST_EARLIER = 4
MOST_OFFERED = 2000
_PLACE = re.compile(r"(?P<mat>.+?)(?:[\s_,·]+(?:pos(?:ition)?\.?\s*)?|\s*pos(?:ition)?\.?\s*)(?P<position>[0-9]{1,3})")
_SEPARATORS = re.compile(r"[\s_(),;]+")


def all_sweeps():
    return Sweep.objects.select_related("segment", "reading", "recorded_by")


def get_sweep_or_404(pk):
    sweeps = all_sweeps().select_related("segment__cable_type", "reading__instrument")
    return get_object_or_404(sweeps, pk=pk)


def sweeps_of_segment(segment):
    """The newest first."""
    return segment.sweeps.select_related("reading")


def earlier_sweeps(sweep):
    """A handful of sweeps of the same cable that are older, connected the same way and not void; the newest first."""
    earlier = sweeps_of_segment(sweep.segment).filter(measured_on__lte=sweep.measured_on, method=sweep.method)
    earlier = earlier.exclude(pk=sweep.pk).exclude(measured_on=sweep.measured_on, pk__gt=sweep.pk)
    return list(earlier.exclude(reading__voided_on__isnull=False)[:MOST_EARLIER])


def kept_elsewhere(hashes):
    """{hash: [sweeps]} of files that are kept already."""
    found = {}
    for sweep in all_sweeps().filter(sha256__in=list(hashes)):
        found.setdefault(sweep.sha256, []).append(sweep)
    return found


def named_files():
    """The hashes of all files that kept sweeps name, in order."""
    return Sweep.objects.order_by("sha256").values_list("sha256", flat=True).distinct()


def forgotten_sweeps(hashes, now):
    """Of these hashes of files, those that no sweep names, and no trail of one that was deleted lately.

    A database that tells of none of them is another pool's, or a new one in place of one that was lost: then none.
    """
    named = set(Sweep.objects.values_list("sha256", flat=True))
    told = set(Sweep.history.values_list("sha256", flat=True))
    lately = Sweep.history.filter(history_date__gt=now - timedelta(days=KEPT_DAYS))
    if not (named | told) & set(hashes):
        return []
    return sorted(set(hashes) - named - set(lately.values_list("sha256", flat=True)))


def cables_offered(on):
    """What may be typed for a cable: its serial, of those that are in use."""
    cables = CableSegment.objects.in_use(on).order_by("serial")
    return cables.values_list("serial", flat=True)[:MOST_OFFERED]


def cables_named(words):
    """For each (text, day) the one cable that it names, or None; two queries however many.

    A text is a serial, or a mat number and a position in which the cable was on that day. It may have more around it
    as names of files do, as long as all that it names is one cable.
    """
    words = [(_stem(text), day) for text, day in words]
    keys = {code_key(part) for text, _day in words for part in _parts(text)}
    by_key = {cable.serial_key: cable for cable in _cables().filter(serial_key__in=keys)}
    places = [_place(text) for text, _day in words]
    fitted = _fitted({place[0] for place in places if place})
    return [
        _exact(text, by_key) or _in_place(place, day, fitted) or _only(text, by_key)
        for (text, day), place in zip(words, places, strict=True)
    ]


def place_named(text):
    """`M-017 pos 3` of a text that has the form of a mat number and a position, "" of another."""
    found = _PLACE.fullmatch(_stem(text))
    return f"{found['mat'].strip()} pos {int(found['position'])}" if found else ""


def known_fitting_days(segments):
    """{(segment id, day)} of days on which one was fitted for certain."""
    fittings = Fitting.objects.filter(segment__in=segments)
    return {(fitting.segment_id, fitting.known_day) for fitting in fittings if fitting.known_day}


def _cables():
    return CableSegment.objects.select_related("cable_type")


def _stem(text):
    return re.sub(r"\.(s[12]p|csv|txt|ts)$", "", (text or "").strip(), flags=re.IGNORECASE)


def _parts(text):
    """The text, and what stands between its blanks and underscores."""
    return list(dict.fromkeys(filter(None, [text, *_SEPARATORS.split(text)])))


def _exact(text, by_key):
    return by_key.get(code_key(text)) if text else None


def _only(text, by_key):
    found = {by_key[key].pk: by_key[key] for part in _parts(text) if (key := code_key(part)) in by_key}
    return next(iter(found.values())) if len(found) == 1 else None


def _place(text):
    found = _PLACE.fullmatch(text)
    return found and (code_key(found["mat"].strip()), int(found["position"]))


def _fitted(mats):
    """{(key of the mat, position): [fittings]}"""
    fittings = {}
    found = Fitting.objects.filter(mat__number_key__in=mats).select_related("segment__cable_type", "mat")
    for fitting in found if mats else ():
        fittings.setdefault((fitting.mat.number_key, fitting.position), []).append(fitting)
    return fittings


def _in_place(place, day, fitted):
    there = [fitting for fitting in fitted.get(place, ()) if fitting.covers(day)]
    return there[0].segment if there else None
