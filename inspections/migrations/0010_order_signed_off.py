"""A work order is signed off or renewed; lines of cables that came out meanwhile say so."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


def check_rows(apps, schema_editor):
    """PostgreSQL alters no table of which rows still wait to be checked, as those of a back-up do."""
    schema_editor.connection.check_constraints()


def answer_what_was_changed(apps, schema_editor):
    """Until now such a line was closed without a word; its fitting tells the day and what went in on it."""
    lines, fittings = apps.get_model("inspections", "WorkOrderLine"), apps.get_model("fleet", "Fitting")
    closed = lines.objects.filter(is_open=False, done_on=None, left_reason="", work_order__withdrawn_on=None)
    for line in closed.select_related("work_order"):
        here = fittings.objects.filter(mat=line.work_order.mat_id, position=line.position)
        ended = here.filter(segment=line.segment_id, removed_on__gte=line.work_order.raised_on)
        out = ended.order_by("removed_on").first()
        if out:
            new = here.filter(fitted_on=out.removed_on).exclude(pk=out.pk).order_by("pk").first()
            line.done_on, line.new_segment_id = out.removed_on, new and new.segment_id
            line.save(update_fields=["done_on", "new_segment"])


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0010_notes'),
        ('inspections', '0009_lines_are_answered'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.RunPython(check_rows, migrations.RunPython.noop),
        migrations.AddField(
            model_name='historicalworkorder',
            name='renewed_as',
            field=models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='inspections.workorder'),
        ),
        migrations.AddField(
            model_name='historicalworkorder',
            name='signed_by',
            field=models.CharField(blank=True, max_length=100),
        ),
        migrations.AddField(
            model_name='historicalworkorder',
            name='signed_on',
            field=models.DateField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='workorder',
            name='renewed_as',
            field=models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='renews', to='inspections.workorder'),
        ),
        migrations.AddField(
            model_name='workorder',
            name='signed_by',
            field=models.CharField(blank=True, max_length=100),
        ),
        migrations.AddField(
            model_name='workorder',
            name='signed_on',
            field=models.DateField(blank=True, null=True),
        ),
        migrations.AddConstraint(
            model_name='workorder',
            constraint=models.CheckConstraint(condition=models.Q(('signed_on', None), models.Q(('renewed_as', None), ('withdrawn_on', None)), _connector='OR'), name='a_signed_order_stays_signed'),
        ),
        migrations.RunPython(answer_what_was_changed, migrations.RunPython.noop),
        migrations.RunPython(check_rows, migrations.RunPython.noop),
    ]
