"""Samples of the pool: mats drawn at random, with the frame and the seed from which they can be drawn again."""

import django.db.models.deletion
import django.utils.timezone
import fleet.models.fields
import simple_history.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0018_a_run_has_no_files'),
        ('inspections', '0015_pieces_of_a_bench_day'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='HistoricalSample',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('withdrawn_on', models.DateField(blank=True, null=True)),
                ('withdrawal_reason', models.CharField(blank=True, max_length=200)),
                ('number', fleet.models.fields.CodeField(db_index=True, max_length=60, verbose_name='sample')),
                ('drawn_on', models.DateField()),
                ('home_only', models.BooleanField(default=False)),
                ('rule', models.CharField(choices=[('this pool', 'Finite'), ('success run', 'Success Run'), ('typed', 'Typed')], max_length=20)),
                ('share', models.FloatField(blank=True, null=True)),
                ('confidence', models.FloatField(blank=True, null=True)),
                ('size', models.PositiveIntegerField()),
                ('same_asked', models.PositiveIntegerField(default=0)),
                ('seed', models.PositiveBigIntegerField()),
                ('frame', models.JSONField()),
                ('note', models.CharField(blank=True, max_length=500)),
                ('ended_on', models.DateField(blank=True, null=True)),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.TextField(null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('depot', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='fleet.depot')),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('load', models.ForeignKey(blank=True, db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='fleet.load')),
                ('recorded_by', models.ForeignKey(blank=True, db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name': 'historical sample',
                'verbose_name_plural': 'historical samples',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='Sample',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('withdrawn_on', models.DateField(blank=True, null=True)),
                ('withdrawal_reason', models.CharField(blank=True, max_length=200)),
                ('number', fleet.models.fields.CodeField(max_length=60, unique=True, verbose_name='sample')),
                ('number_key', fleet.models.fields.CodeKeyField('number', blank=True, editable=False, max_length=180, unique=True)),
                ('drawn_on', models.DateField()),
                ('home_only', models.BooleanField(default=False)),
                ('rule', models.CharField(choices=[('this pool', 'Finite'), ('success run', 'Success Run'), ('typed', 'Typed')], max_length=20)),
                ('share', models.FloatField(blank=True, null=True)),
                ('confidence', models.FloatField(blank=True, null=True)),
                ('size', models.PositiveIntegerField()),
                ('same_asked', models.PositiveIntegerField(default=0)),
                ('seed', models.PositiveBigIntegerField()),
                ('frame', models.JSONField()),
                ('note', models.CharField(blank=True, max_length=500)),
                ('ended_on', models.DateField(blank=True, null=True)),
                ('depot', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='samples', to='fleet.depot')),
                ('load', models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='fleet.load')),
                ('recorded_by', models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-drawn_on', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='SampledMat',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('frame_row', models.PositiveIntegerField()),
                ('stratum', models.CharField(max_length=20)),
                ('again', models.BooleanField(default=False)),
                ('cables', models.JSONField()),
                ('cables_after', models.JSONField(blank=True, null=True)),
                ('mat', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='sampled', to='fleet.mat')),
                ('sample', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='mats', to='inspections.sample')),
            ],
            options={
                'ordering': ['sample', 'frame_row'],
            },
        ),
        migrations.AddConstraint(
            model_name='sample',
            constraint=models.CheckConstraint(condition=models.Q(('ended_on__isnull', True), ('ended_on__gte', models.F('drawn_on')), _connector='OR'), name='sample_ends_after_it_is_drawn'),
        ),
        migrations.AddConstraint(
            model_name='sampledmat',
            constraint=models.UniqueConstraint(fields=('sample', 'mat'), name='a_mat_once_in_a_sample'),
        ),
        migrations.AddConstraint(
            model_name='sampledmat',
            constraint=models.UniqueConstraint(fields=('sample', 'frame_row'), name='a_row_of_a_frame_once_in_a_sample'),
        ),
    ]
