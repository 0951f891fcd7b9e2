"""What each row says by itself, for `invariants.py`: its own rules, its keys, its text, its trail."""

import unicodedata
from collections import Counter, defaultdict

from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import connection, models
from django.db.utils import DatabaseError

from fleet.models.codes import Coded
from fleet.models.trail import Recorded
from inspections.models import Assessment

APPS = ("fleet", "inspections")
# written by the services beside the trail
BESIDE_THE_TRAIL = {"changed_alone"}
MULTI_LINE = {("fleet.matdesign", "steps")}


def all_models():
    """Every table of the two apps, those of the trail included."""
    return [model for model in apps.get_models() if model._meta.app_label in APPS and model._meta.managed]


def broken_rows():
    yield from foreign_keys_lead_somewhere()
    for model in all_models():
        if model is Assessment:
            continue  # nobody types one; `invariants` compares each with one made now
        if not hasattr(model, "history_object"):
            yield from rows_keep_their_own_rules(model)
        if issubclass(model, Coded):
            yield from codes_have_their_keys(model)
        if issubclass(model, Recorded):
            yield from trails_tell_the_rows(model)
        yield from text_is_plain(model)


def foreign_keys_lead_somewhere():
    try:
        connection.check_constraints()
    except DatabaseError as error:
        yield f"a foreign key leads nowhere: {error}"
    for model in all_models():
        for field in model._meta.concrete_fields:
            if field.is_relation and not field.db_constraint and not hasattr(model, "history_object"):
                there = field.remote_field.model._base_manager.values("pk")
                lost = model._base_manager.exclude(**{field.attname: None}).exclude(**{f"{field.attname}__in": there})
                for row in lost:
                    yield f"{model._meta.label} {row.pk}: its {field.name} is not there"


def rows_keep_their_own_rules(model):
    """Validators, words, unique values and constraints, as the model has them."""
    # whether what a key points to is there, the database was asked at once
    relations = [field.name for field in model._meta.concrete_fields if field.is_relation]
    for row in model._base_manager.all().iterator():
        try:
            row.clean_fields(exclude=[*relations, *_empty_of_derived(row)])
            row.clean()
        except ValidationError as error:
            yield f"{model._meta.label} {row.pk}: {error.messages} {sorted(getattr(error, 'message_dict', {}))}"
    yield from unique_rows(model)
    for constraint in model._meta.constraints:
        if isinstance(constraint, models.CheckConstraint):
            for row in model._base_manager.exclude(constraint.condition):
                yield f"{model._meta.label} {row.pk}: not {constraint.name}"


def _empty_of_derived(row):
    """Columns that may be empty in the database and in no form: nobody types an assessment."""
    fields = row._meta.concrete_fields
    return [field.name for field in fields if field.null and not field.blank and getattr(row, field.attname) is None]


def unique_rows(model):
    rules = [(c.fields, c.condition, c.name) for c in model._meta.constraints if isinstance(c, models.UniqueConstraint)]
    rules += [((field.name,), None, field.name) for field in model._meta.concrete_fields if field.unique]
    for names, condition, rule in rules:
        rows = model._base_manager.filter(condition) if condition else model._base_manager.all()
        for values, number in Counter(rows.order_by().values_list(*names)).items():
            if number > 1 and None not in values:
                yield f"{model._meta.label}: {number} rows of one {rule}, {values}"


def codes_have_their_keys(model):
    key = model.key_field()
    spelled = defaultdict(list)
    for pk, code, kept in model._base_manager.values_list("pk", key.code, key.name):
        wanted = unicodedata.normalize("NFC", unicodedata.normalize("NFD", code).casefold())
        spelled[wanted].append(code)
        if kept != wanted:
            yield f"{model._meta.label} {pk}: the key of “{code}” is “{kept}”"
    for codes in spelled.values():
        if len(codes) > 1:
            yield f"{model._meta.label}: one code more than once: {codes}"


def trails_tell_the_rows(model):
    """A row without a trail was never changed; else each change raised its version, and the last one is what it is."""
    entries = defaultdict(list)
    for entry in model.history.model.objects.order_by("history_id"):
        entries[entry.id].append(entry)
    rows = {row.pk: row for row in model._base_manager.all()}
    for pk, row in rows.items():
        if pk not in entries and row.version != 1:
            yield f"{model._meta.label} {pk}: version {row.version} and no trail"
    for pk, trail in entries.items():
        yield from (f"{model._meta.label} {pk}: {wrong}" for wrong in _wrong_in(trail, rows.get(pk)))


def _wrong_in(trail, row):
    kinds = "".join(entry.history_type for entry in trail)
    if kinds != "+" + "~" * (len(trail) - 1 - (row is None)) + "-" * (row is None):
        yield f"its trail is {kinds}, and the row is {'gone' if row is None else 'there'}"
    elif row is not None:
        if row.version != len(trail):
            yield f"version {row.version} after {len(trail) - 1} changes"
        tracked = [f.attname for f in trail[-1].tracked_fields if f.attname not in BESIDE_THE_TRAIL]
        if differing := [name for name in tracked if getattr(trail[-1], name) != getattr(row, name)]:
            yield f"its trail ends with another {', '.join(differing)}"
    seen = [entry.version for entry in trail if entry.history_type != "-"]
    if seen != list(range(1, len(seen) + 1)):
        yield f"versions of its trail: {seen}"
    if sorted(entry.history_date for entry in trail) != [entry.history_date for entry in trail]:
        yield "its trail goes back in time"


def text_is_plain(model):
    """No text holds a character that no eye sees, but for the line breaks of a text with lines."""
    names = [f.attname for f in model._meta.concrete_fields if isinstance(f, models.CharField | models.TextField)]
    of_rows = getattr(model, "instance_type", model)._meta.label_lower
    for pk, *texts in model._base_manager.values_list("pk", *names).iterator() if names else ():
        for name, text in zip(names, texts, strict=True):
            lines = (of_rows, name) in MULTI_LINE
            wrong = {c for c in text or "" if unicodedata.category(c) in ("Cc", "Cs") and not (lines and c in "\r\n\t")}
            if wrong:
                yield f"{model._meta.label} {pk}: its {name} holds {sorted(f'U+{ord(c):04X}' for c in wrong)}"
