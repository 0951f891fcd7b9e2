"""What the log page is told of the event that somebody chooses on it; ticks and what is typed stay as they are."""

import json

# the fields of a new event that decide which mats are known of, and which should not go
OF_NEW = ("name", "place", "starts_on", "ends_on")


def event_facts(form, *, planned, same):
    """JSON for `static/js/event_log.js`. `about`: by which fields the page knows whether this is what it asked for."""
    code = form.event.code if form.event else "new" if form.adds_event else ""
    about = [code, *(_typed(form, name) if form.adds_event else "" for name in OF_NEW)]
    about.append(_typed(form, "until") if "until" in form.fields else "")
    picker = form.picker
    return json.dumps(
        {"about": about, "planned": planned, "same": same, "unfit": picker.unfit, "gone": picker.gone},
        ensure_ascii=False,
    )


def _typed(form, name):
    value = form[name].value()
    return "" if value is None else str(value)
