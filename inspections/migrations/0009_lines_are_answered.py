"""What becomes of a work order: given to whom and for when, each line done or left."""

import django.db.models.deletion
from django.db import migrations, models


def check_rows(apps, schema_editor):
    """PostgreSQL alters no table of which rows still wait to be checked, as those of a back-up do."""
    schema_editor.connection.check_constraints()


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0009_what_a_change_keeps'),
        ('inspections', '0008_worst_first'),
    ]

    operations = [
        migrations.RunPython(check_rows, migrations.RunPython.noop),
        migrations.AddField(
            model_name='historicalworkorder',
            name='given_to',
            field=models.CharField(blank=True, max_length=100),
        ),
        migrations.AddField(
            model_name='historicalworkorder',
            name='planned_on',
            field=models.DateField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='workorder',
            name='given_to',
            field=models.CharField(blank=True, max_length=100),
        ),
        migrations.AddField(
            model_name='workorder',
            name='planned_on',
            field=models.DateField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='workorderline',
            name='answered_by',
            field=models.CharField(blank=True, max_length=100),
        ),
        migrations.AddField(
            model_name='workorderline',
            name='done_on',
            field=models.DateField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='workorderline',
            name='left_reason',
            field=models.CharField(blank=True, max_length=200),
        ),
        migrations.AddField(
            model_name='workorderline',
            name='new_segment',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='work_order_lines_in', to='fleet.cablesegment'),
        ),
        migrations.AlterField(
            model_name='assessment',
            name='damage_place',
            field=models.CharField(blank=True, choices=[('cable', 'cable'), ('connector', 'connector'), ('one of the cables', 'one of the cables'), ('element or board', 'element or board'), ('cover or fold', 'cover or fold'), ('wet', 'wet'), ('whole mat', 'whole mat'), ('not known', 'not known')], max_length=30),
        ),
        migrations.AddConstraint(
            model_name='workorderline',
            constraint=models.CheckConstraint(condition=models.Q(('done_on__isnull', True), ('left_reason', ''), _connector='OR'), name='a_line_is_done_or_left_not_both'),
        ),
        migrations.AddConstraint(
            model_name='workorderline',
            constraint=models.CheckConstraint(condition=models.Q(('new_segment__isnull', True), ('done_on__isnull', False), _connector='OR'), name='a_new_cable_has_its_day'),
        ),
    ]
