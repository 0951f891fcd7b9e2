"""Plain words for why something was withdrawn, removed or ended, and for use that somebody reported."""

from django.db import migrations, models
from django.db.models import Q

WITHDRAWABLE = ("cablesegment", "cabletype", "depot", "mat", "matdesign")
USUAL_USE = {"Usual use, as told at the start": "Usual use, as reported at the start"}


def with_history(*models):
    return [*models, *(f"historical{model}" for model in models)]


def renamed(models, old, new):
    return [migrations.RenameField(model, old, new) for model in with_history(*models)]


def say_reported(apps, schema_editor):
    for model in with_history("usageevent"):
        apps.get_model("fleet", model).objects.filter(basis="told").update(basis="reported")
    # events that the app itself named
    for model in with_history("event"):
        for old, new in USUAL_USE.items():
            apps.get_model("fleet", model).objects.filter(name=old).update(name=new)


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0003_permissions_of_their_own"),
    ]

    operations = [
        migrations.RemoveConstraint("fault", "fault_end_has_day_and_reason"),
        *renamed(WITHDRAWABLE, "withdrawn_because", "withdrawal_reason"),
        *renamed(["fitting"], "removed_because", "removal_reason"),
        *renamed(["fault"], "ended_because", "end_reason"),
        migrations.AddConstraint(
            "fault",
            models.CheckConstraint(
                condition=Q(end_reason="", ended_on__isnull=True)
                | (Q(ended_on__isnull=False) & ~Q(end_reason="")),
                name="fault_end_has_day_and_reason",
            ),
        ),
        *(
            migrations.AlterField(
                model,
                "basis",
                models.CharField(
                    choices=[("counted", "Counted"), ("reported", "Reported"), ("assumed", "Assumed")],
                    default="counted",
                    max_length=10,
                ),
            )
            for model in with_history("usageevent")
        ),
        migrations.RunPython(say_reported, migrations.RunPython.noop),
    ]
