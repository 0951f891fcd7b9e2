"""A bench day is not to be trusted from the day on on which somebody marked it."""

from django.db import migrations, models
from django.utils import timezone


def say_when_days_were_marked(apps, schema_editor):
    """From who wrote it when, and never before the bench day itself."""
    states = apps.get_model("inspections", "HistoricalBenchDaySaid").objects.order_by("history_date", "history_id")
    for said in apps.get_model("inspections", "BenchDaySaid").objects.exclude(not_trusted_reason=""):
        trail = list(states.filter(id=said.pk).values_list("history_date", "not_trusted_reason"))
        marked_on = timezone.localtime(_marked_at(trail) or said.recorded_at).date()
        said.not_trusted_on = max(marked_on, said.measured_on)
        said.save(update_fields=["not_trusted_on"])


def _marked_at(trail):
    """When the reason came that stands at its end; None: the trail says nothing of it."""
    marked_at, before = None, ""
    for at, reason in trail:
        if reason and not before:
            marked_at = at
        before = reason
    return marked_at if before else None


def check_rows(apps, schema_editor):
    """PostgreSQL changes no table of which rows still wait to be checked, as those of a back-up do."""
    schema_editor.connection.check_constraints()


class Migration(migrations.Migration):

    dependencies = [
        ('inspections', '0022_costs_of_a_rule'),
    ]

    operations = [
        migrations.RunPython(check_rows, migrations.RunPython.noop),
        migrations.AddField(
            model_name='benchdaysaid',
            name='not_trusted_on',
            field=models.DateField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='historicalbenchdaysaid',
            name='not_trusted_on',
            field=models.DateField(blank=True, null=True),
        ),
        migrations.RunPython(say_when_days_were_marked, migrations.RunPython.noop),
        migrations.AddConstraint(
            model_name='benchdaysaid',
            constraint=models.CheckConstraint(condition=models.Q(('not_trusted_on__isnull', True), ('not_trusted_on__gte', models.F('measured_on')), _connector='OR'), name='not_trusted_after_the_day'),
        ),
        migrations.AddConstraint(
            model_name='benchdaysaid',
            constraint=models.CheckConstraint(condition=models.Q(('not_trusted_on__isnull', True), models.Q(('not_trusted_reason', ''), _negated=True), _connector='OR'), name='not_trusted_for_a_reason'),
        ),
    ]
