"""What a form asks before it is saved: unusual values of its fields, and what its `clean` found worth asking."""

from .record_forms import VersionForm


def asks_of(form, on):
    """Sentences, each naming field and value that was typed, so that another value asks again; none: nothing to ask.

    A form may hold smaller ones (`parts`, each with words `about` it) and sentences of its own (`asks`). A value of a
    stored row that stays as it is was meant when it was stored.
    """
    parts = [sentence for part in getattr(form, "parts", ()) for sentence in asks_of(part, on)]
    return [*_of_fields(form, on), *parts, *getattr(form, "asks", ())]


def _of_fields(form, on):
    stands = set(form.fields) - set(form.changed_data) if isinstance(form, VersionForm) else ()
    for name, value in form.cleaned_data.items():
        limit = getattr(form.fields.get(name), "limit", None)
        if limit is None or value is None or name in stands or not form[name].data:
            continue
        if usual := limit.unusual(value, on):
            yield f"{getattr(form, 'about', '')}{form[name].label}: {_shown(value)}. {usual}"


def _shown(value):
    if isinstance(value, list):
        return " ".join(map(_shown, value))
    return f"{value:.12g}" if isinstance(value, float) else str(value)
