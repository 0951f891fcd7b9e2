"""Usual use that was stored as reported has a basis of its own: one a mat and calendar month, on no day, never planned."""

from collections import defaultdict

from django.db import migrations, models
from django.db.models import Q
from django.utils import timezone

from ._code_keys import enter

# how the app named these events, the older name first
NAMES = ("Usual use, as told at the start", "Usual use, as reported at the start")
NAME = "Usual use"
BASES = ("told", "reported")
MOST = 32_767
MERGED = "two of one month became one"


def make_usual(apps, schema_editor):
    """What people corrected to another basis, or planned, is theirs and stays as it is."""
    usage, history = apps.get_model("fleet.usageevent"), apps.get_model("fleet.historicalusageevent")
    rows = usage.objects.filter(event__name__in=NAMES, basis__in=BASES).exclude(state="planned")
    ids = list(rows.values_list("pk", flat=True))
    usage.objects.filter(pk__in=ids).update(basis="usual")
    history.objects.filter(id__in=ids, basis__in=BASES).update(basis="usual")
    # usual use takes a mat on no day
    apps.get_model("fleet.matday").objects.filter(usage_event__in=ids).delete()
    _merge(usage, history, ids)
    _rename(apps)
    # PostgreSQL alters no table of which rows still wait to be checked
    schema_editor.connection.check_constraints()


def _merge(usage, history, ids):
    months = defaultdict(list)
    rows = usage.objects.filter(pk__in=ids, state="went").select_related("event").order_by("event__starts_on", "pk")
    for row in rows:
        months[row.mat_id, row.event.starts_on.year, row.event.starts_on.month].append(row)
    for first, *others in months.values():
        if others:
            counts_for = min(MOST, sum(row.counts_for for row in (first, *others)))
            _correct(usage, history, first, counts_for=counts_for)
        for row in others:
            _correct(usage, history, row, state="called off", shares_a_day=False)


def _correct(usage, history, row, **values):
    if not history.objects.filter(id=row.pk).exists():
        enter(history, row, "+", row.recorded_at, history_user_id=row.recorded_by_id)
    values["version"] = row.version + 1
    for name, value in values.items():
        setattr(row, name, value)
    usage.objects.filter(pk=row.pk).update(**values)
    enter(history, row, "~", timezone.now(), history_change_reason=MERGED)


def _rename(apps):
    events, history = apps.get_model("fleet.event"), apps.get_model("fleet.historicalevent")
    named = events.objects.filter(name__in=NAMES, usage_events__basis="usual").exclude(
        pk__in=apps.get_model("fleet.usageevent").objects.exclude(basis="usual").values("event")
    )
    ids = list(named.values_list("pk", flat=True).distinct())
    events.objects.filter(pk__in=ids).update(name=NAME)
    history.objects.filter(id__in=ids, name__in=NAMES).update(name=NAME)


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0007_roles_do_what_they_say"),
    ]

    operations = [
        migrations.AddConstraint(
            model_name="usageevent",
            constraint=models.CheckConstraint(
                condition=~Q(basis="usual", state="planned"), name="usual_use_is_never_planned"
            ),
        ),
        migrations.RunPython(make_usual, migrations.RunPython.noop),
    ]
