"""What a change of cables keeps: torque, end test, remark, which fitting it ended; and whose number a serial is."""

import django.db.models.deletion
import fleet.validators
from django.conf import settings
from django.db import migrations, models


ASSUMED_CABLE = "not known, as 2.5 mm coax"


def running_numbers(apps, schema_editor):
    """Serials of cables that *Start here* made are running numbers of the app, unless somebody gave them another."""
    segments = apps.get_model("fleet.cablesegment").objects.filter(load=None, cable_type__name=ASSUMED_CABLE)
    segments.filter(serial__regex=r"^C-[0-9]{5,}$").update(serial_basis="given")


def check_rows(apps, schema_editor):
    """PostgreSQL alters no table of which rows still wait to be checked, as those of a back-up do."""
    schema_editor.connection.check_constraints()


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0008_usual_use'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.RunPython(check_rows, migrations.RunPython.noop),
        migrations.AddField(
            model_name='cablesegment',
            name='serial_basis',
            field=models.CharField(choices=[('own', 'Own'), ('given', 'Given')], default='own', max_length=5),
        ),
        migrations.AddField(
            model_name='fitting',
            name='end_test',
            field=models.CharField(blank=True, choices=[('read', 'Read'), ('not read', 'Not Read')], max_length=10),
        ),
        migrations.AddField(
            model_name='fitting',
            name='ended',
            field=models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='ended_by', to='fleet.fitting'),
        ),
        migrations.AddField(
            model_name='fitting',
            name='remark',
            field=models.CharField(blank=True, max_length=500),
        ),
        migrations.AddField(
            model_name='fitting',
            name='torque_nm',
            field=models.FloatField(blank=True, null=True, validators=[fleet.validators.check_positive], verbose_name='torque in N·m'),
        ),
        migrations.AddField(
            model_name='historicalcablesegment',
            name='serial_basis',
            field=models.CharField(choices=[('own', 'Own'), ('given', 'Given')], default='own', max_length=5),
        ),
        migrations.AddField(
            model_name='historicalfitting',
            name='end_test',
            field=models.CharField(blank=True, choices=[('read', 'Read'), ('not read', 'Not Read')], max_length=10),
        ),
        migrations.AddField(
            model_name='historicalfitting',
            name='ended',
            field=models.ForeignKey(blank=True, db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='fleet.fitting'),
        ),
        migrations.AddField(
            model_name='historicalfitting',
            name='remark',
            field=models.CharField(blank=True, max_length=500),
        ),
        migrations.AddField(
            model_name='historicalfitting',
            name='torque_nm',
            field=models.FloatField(blank=True, null=True, validators=[fleet.validators.check_positive], verbose_name='torque in N·m'),
        ),
        migrations.AlterField(
            model_name='fault',
            name='place',
            field=models.CharField(choices=[('cable', 'Cable'), ('connector', 'Connector'), ('one of the cables', 'One Of Cables'), ('element or board', 'Element'), ('cover or fold', 'Cover'), ('wet', 'Wet'), ('whole mat', 'Whole Mat'), ('not known', 'Not Known')], max_length=20),
        ),
        migrations.AlterField(
            model_name='historicalfault',
            name='place',
            field=models.CharField(choices=[('cable', 'Cable'), ('connector', 'Connector'), ('one of the cables', 'One Of Cables'), ('element or board', 'Element'), ('cover or fold', 'Cover'), ('wet', 'Wet'), ('whole mat', 'Whole Mat'), ('not known', 'Not Known')], max_length=20),
        ),
        migrations.AddConstraint(
            model_name='fault',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('place', 'one of the cables'), _negated=True), ('position__isnull', True), _connector='OR'), name='one_of_the_cables_names_no_position'),
        ),
        migrations.RunPython(running_numbers, migrations.RunPython.noop),
    ]
