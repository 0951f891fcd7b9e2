"""What the log page is told of the event that somebody chooses on it; ticks and what is typed stay as they are."""

import json


def event_facts(form, *, planned, same):
    """JSON for `static/js/event_log.js`. `about`: by which fields the page knows whether this is what it asked for."""
    if form.event:
        about = [form.event.code, "", "", ""]
    else:
        about = ["new" if form.adds_event else "", *(_typed(form, name) for name in ("name", "place", "starts_on"))]
    picker = form.picker
    return json.dumps(
        {"about": about, "planned": planned, "same": same, "unfit": picker.unfit, "gone": picker.gone},
        ensure_ascii=False,
    )


def _typed(form, name):
    value = form[name].value()
    return "" if value is None else str(value)
