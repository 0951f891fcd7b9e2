"""Plain words in the columns and values of readings, assessments, policy and work orders, and in what is kept as JSON."""

from django.contrib.sessions.backends.db import SessionStore
from django.db import migrations, models
from django.db.models import F, Q

BASES = {
    "its kind": "similar cables",
    "its kind is due": "similar cables are due",
    "its kind falls": "similar cables fall",
}
STATUSES = ("change now", "change before", "change within look-ahead", "measure", "unknown", "ok")
MEASURE_REASONS = (
    "undecided",
    "doubtful",
    "does not follow a line",
    "falling",
    "never measured",
    "measured long ago",
    "similar cables are due",
)


def with_history(*models):
    return [*models, *(f"historical{model}" for model in models)]


def renamed(models, old, new):
    return [migrations.RenameField(model, old, new) for model in with_history(*models)]


def chosen(words):
    return models.CharField(blank=True, choices=[(word, word) for word in words], max_length=30)


def say_similar_cables(apps, schema_editor):
    for column in ("trend_from", "measure_reason"):
        for old, new in BASES.items():
            apps.get_model("inspections.assessment").objects.filter(**{column: old}).update(**{column: new})
    lines = apps.get_model("inspections.workorderline").objects
    for pk, reasons in lines.values_list("pk", "reasons"):
        said = [reason | {"basis": BASES.get(reason["basis"], reason["basis"])} for reason in reasons]
        if said != reasons:
            lines.filter(pk=pk).update(reasons=said)


def rename_in_pool_trend(apps, schema_editor):
    trends = apps.get_model("inspections.pooltrend").objects
    for pk, model in trends.values_list("pk", "model"):
        if "no_model_because" in model:
            model["no_model_reason"] = model.pop("no_model_because")
            trends.filter(pk=pk).update(model=model)


def rename_in_sessions(apps, schema_editor):
    """What the bench remembers of the last form."""
    sessions = apps.get_model("sessions.session").objects
    for key, data in sessions.filter(expire_date__gt=models.functions.Now()).values_list("session_key", "session_data"):
        session = SessionStore(key).decode(data)
        if "because" in session.get("bench", {}):
            session["bench"]["reason"] = session["bench"].pop("because")
            sessions.filter(session_key=key).update(session_data=SessionStore(key).encode(session))


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0004_plain_words"),
        ("inspections", "0004_capitals_make_no_other_code"),
        ("sessions", "0001_initial"),
    ]

    operations = [
        migrations.RemoveConstraint("measurement", "a_loss_or_no_through"),
        migrations.RemoveConstraint("measurement", "taken_back_after_measured"),
        *renamed(["instrument", "workorder"], "withdrawn_because", "withdrawal_reason"),
        *renamed(["measurement"], "no_through", "no_signal"),
        *renamed(["measurement", "policyvalue"], "because", "reason"),
        *renamed(["measurement"], "doubtful_because", "doubt_reason"),
        *renamed(["measurement"], "taken_back_on", "voided_on"),
        *renamed(["measurement"], "taken_back_because", "void_reason"),
        migrations.AddConstraint(
            "measurement",
            models.CheckConstraint(
                condition=Q(loss_db__isnull=True, no_signal=True) | Q(loss_db__isnull=False, no_signal=False),
                name="a_loss_or_no_signal",
            ),
        ),
        migrations.AddConstraint(
            "measurement",
            models.CheckConstraint(
                condition=Q(voided_on__isnull=True) | Q(voided_on__gte=F("measured_on")),
                name="voided_after_measured",
            ),
        ),
        migrations.RenameField("assessment", "measure_because", "measure_reason"),
        migrations.RenameField("assessment", "trend_no_date_because", "trend_no_date_reason"),
        migrations.RenameField("assessmentrun", "failed_because", "failure_reason"),
        migrations.AlterField(
            "assessment",
            "urgency",
            models.PositiveSmallIntegerField(choices=list(enumerate(STATUSES, 1))),
        ),
        migrations.AlterField("assessment", "measure_reason", chosen(MEASURE_REASONS)),
        migrations.AlterField("assessment", "trend_from", chosen(["own readings", "similar cables"])),
        migrations.RunPython(say_similar_cables, migrations.RunPython.noop),
        migrations.RunPython(rename_in_pool_trend, migrations.RunPython.noop),
        migrations.RunPython(rename_in_sessions, migrations.RunPython.noop),
    ]
