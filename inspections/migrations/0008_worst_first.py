"""Limits of a position, limits that are off, and the cause that leads: assessments are made anew."""

import django.db.models.deletion
import fleet.models.fields
from django.db import migrations, models


def assess_again(apps, schema_editor):
    apps.get_model("inspections", "PoolState").objects.update(assessed_on=None)


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0006_words_of_use_and_length'),
        ('inspections', '0007_after_fittings_ended'),
    ]

    operations = [
        # derived rows: the first page computes all of them afresh
        migrations.DeleteModel(name='Assessment'),
        migrations.CreateModel(
            name='Assessment',
            fields=[
                ('segment', models.OneToOneField(db_constraint=False, on_delete=django.db.models.deletion.CASCADE, primary_key=True, related_name='assessment', serialize=False, to='fleet.cablesegment')),
                ('mat', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.CASCADE, related_name='assessments', to='fleet.mat')),
                ('position', models.PositiveSmallIntegerField()),
                ('assessed_on', models.DateField()),
                ('urgency', models.PositiveSmallIntegerField(choices=[(1, 'change now'), (2, 'change before'), (3, 'change within look-ahead'), (4, 'measure'), (5, 'unknown'), (6, 'ok')])),
                ('due_on', models.DateField(null=True)),
                ('cause', models.CharField(blank=True, choices=[('damage', 'damage'), ('loss', 'loss'), ('trend', 'trend'), ('events', 'events'), ('age', 'age')], max_length=30)),
                ('measure_reason', models.CharField(blank=True, choices=[('undecided', 'undecided'), ('doubtful', 'doubtful'), ('does not follow a line', 'does not follow a line'), ('falling', 'falling'), ('never measured', 'never measured'), ('measured long ago', 'measured long ago'), ('similar cables are due', 'similar cables are due')], max_length=30)),
                ('before_event', models.ForeignKey(db_constraint=False, db_index=False, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to='fleet.event')),
                ('list_key', fleet.models.fields.CodeField(db_index=True, max_length=120)),
                ('wanted_on', models.DateField(null=True)),
                ('age_applies', models.BooleanField(default=True)),
                ('events_applies', models.BooleanField(default=True)),
                ('age_due_on', models.DateField(null=True)),
                ('age_basis', models.CharField(blank=True, choices=[('known', 'known'), ('about', 'about'), ('not later than', 'not later than')], max_length=30)),
                ('age_limit_months', models.PositiveSmallIntegerField(null=True)),
                ('event_count', models.PositiveIntegerField()),
                ('event_limit', models.PositiveIntegerField(null=True)),
                ('not_confirmed', models.PositiveIntegerField()),
                ('given_way', models.PositiveIntegerField(default=0)),
                ('events_due_on', models.DateField(null=True)),
                ('events_basis', models.CharField(blank=True, choices=[('reached', 'reached'), ('planned', 'planned'), ('usual rate', 'usual rate')], max_length=30)),
                ('measured_on', models.DateField(null=True)),
                ('loss_db', models.FloatField(null=True)),
                ('reference_loss_db', models.FloatField(null=True)),
                ('loss_uncertainty_db', models.FloatField(null=True)),
                ('loss_limit_db', models.FloatField()),
                ('verdict', models.CharField(blank=True, choices=[('within', 'within'), ('over', 'over'), ('undecided', 'undecided')], max_length=30)),
                ('measured_sound', models.BooleanField(default=False)),
                ('loss_due_on', models.DateField(null=True)),
                ('trend_due_on', models.DateField(null=True)),
                ('trend_expected_on', models.DateField(null=True)),
                ('chance_over', models.FloatField(null=True)),
                ('accepted_risk', models.FloatField(null=True)),
                ('trend_from', models.CharField(blank=True, choices=[('own readings', 'own readings'), ('similar cables', 'similar cables')], max_length=30)),
                ('trend_no_date_reason', models.CharField(blank=True, max_length=60)),
                ('trend_readings', models.PositiveIntegerField(default=0)),
                ('trend_intercept_db', models.FloatField(null=True)),
                ('trend_rate_db', models.FloatField(null=True)),
                ('trend_c00', models.FloatField(null=True)),
                ('trend_c01', models.FloatField(null=True)),
                ('trend_c11', models.FloatField(null=True)),
                ('damage_due_on', models.DateField(null=True)),
                ('damage_place', models.CharField(blank=True, choices=[('cable', 'cable'), ('connector', 'connector'), ('element or board', 'element or board'), ('cover or fold', 'cover or fold'), ('whole mat', 'whole mat'), ('not known', 'not known')], max_length=30)),
            ],
        ),
        migrations.AlterModelOptions(
            name='policyvalue',
            options={'ordering': ['setting', 'design__code', 'position', 'depot__name']},
        ),
        migrations.RemoveConstraint(
            model_name='policyvalue',
            name='one_design_value_of_a_setting',
        ),
        migrations.AddField(
            model_name='historicalpolicyvalue',
            name='position',
            field=models.PositiveSmallIntegerField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='policyvalue',
            name='position',
            field=models.PositiveSmallIntegerField(blank=True, null=True),
        ),
        migrations.AlterField(
            model_name='historicalpolicyvalue',
            name='setting',
            field=models.CharField(choices=[('age_limit_years', 'Age limit'), ('event_limit', 'Event limit'), ('loss_limit_db', 'Loss limit'), ('accepted_risk', 'Accepted risk per cable'), ('look_ahead_days', 'Look-ahead'), ('reference_mhz', 'Reference frequency'), ('reading_uncertainty_db', 'Standard uncertainty of a reading'), ('measure_again_months', 'Measure again after'), ('own_readings_decide', 'Own readings decide'), ('wear_by_events', 'Wear follows'), ('has_bench', 'Has a bench')], max_length=40),
        ),
        migrations.AlterField(
            model_name='policyvalue',
            name='setting',
            field=models.CharField(choices=[('age_limit_years', 'Age limit'), ('event_limit', 'Event limit'), ('loss_limit_db', 'Loss limit'), ('accepted_risk', 'Accepted risk per cable'), ('look_ahead_days', 'Look-ahead'), ('reference_mhz', 'Reference frequency'), ('reading_uncertainty_db', 'Standard uncertainty of a reading'), ('measure_again_months', 'Measure again after'), ('own_readings_decide', 'Own readings decide'), ('wear_by_events', 'Wear follows'), ('has_bench', 'Has a bench')], max_length=40),
        ),
        migrations.AddConstraint(
            model_name='policyvalue',
            constraint=models.UniqueConstraint(condition=models.Q(('cleared_on', None), ('depot', None), ('position', None)), fields=('setting', 'design'), name='one_design_value_of_a_setting'),
        ),
        migrations.AddConstraint(
            model_name='policyvalue',
            constraint=models.UniqueConstraint(condition=models.Q(('cleared_on', None), ('depot', None)), fields=('setting', 'design', 'position'), name='one_position_value_of_a_setting'),
        ),
        migrations.AddConstraint(
            model_name='policyvalue',
            constraint=models.CheckConstraint(condition=models.Q(('position__isnull', True), ('design__isnull', False), _connector='OR'), name='policy_position_names_its_design'),
        ),
        migrations.AddIndex(
            model_name='assessment',
            index=models.Index(fields=['urgency'], name='urgency_counts'),
        ),
        migrations.RunPython(assess_again, migrations.RunPython.noop),
    ]
