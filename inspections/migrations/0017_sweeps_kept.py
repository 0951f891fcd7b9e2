"""Sweep files that are kept: which cable and day, what was read from each, and the reading it became."""

import django.core.validators
import django.db.models.deletion
import django.utils.timezone
import simple_history.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0018_a_run_has_no_files'),
        ('inspections', '0016_samples_of_the_pool'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='HistoricalSweep',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('measured_on', models.DateField()),
                ('file_name', models.CharField(max_length=120)),
                ('sha256', models.CharField(editable=False, max_length=64)),
                ('size_bytes', models.PositiveIntegerField(editable=False, verbose_name='size in bytes')),
                ('kind', models.CharField(editable=False, max_length=20)),
                ('method', models.CharField(choices=[('through', 'through'), ('far end open', 'far end open'), ('far end shorted', 'far end shorted'), ('on its element', 'on its element'), ('not referenced', 'not referenced')], max_length=20, verbose_name='how it was connected')),
                ('points', models.PositiveIntegerField(editable=False)),
                ('from_mhz', models.FloatField(editable=False, validators=[django.core.validators.MinValueValidator(0)], verbose_name='lowest frequency in MHz')),
                ('to_mhz', models.FloatField(editable=False, validators=[django.core.validators.MinValueValidator(0)], verbose_name='highest frequency in MHz')),
                ('loss_db', models.FloatField(blank=True, null=True, verbose_name='loss in dB')),
                ('at_mhz', models.FloatField(blank=True, null=True, verbose_name='read at, in MHz')),
                ('averaged_from_mhz', models.FloatField(blank=True, null=True, verbose_name='mean from, in MHz')),
                ('averaged_to_mhz', models.FloatField(blank=True, null=True, verbose_name='mean to, in MHz')),
                ('warnings', models.JSONField(blank=True, default=list)),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.TextField(null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('load', models.ForeignKey(blank=True, db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='fleet.load')),
                ('reading', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='inspections.measurement')),
                ('recorded_by', models.ForeignKey(blank=True, db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('segment', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='fleet.cablesegment')),
            ],
            options={
                'verbose_name': 'historical sweep',
                'verbose_name_plural': 'historical sweeps',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='Sweep',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('measured_on', models.DateField()),
                ('file_name', models.CharField(max_length=120)),
                ('sha256', models.CharField(editable=False, max_length=64)),
                ('size_bytes', models.PositiveIntegerField(editable=False, verbose_name='size in bytes')),
                ('kind', models.CharField(editable=False, max_length=20)),
                ('method', models.CharField(choices=[('through', 'through'), ('far end open', 'far end open'), ('far end shorted', 'far end shorted'), ('on its element', 'on its element'), ('not referenced', 'not referenced')], max_length=20, verbose_name='how it was connected')),
                ('points', models.PositiveIntegerField(editable=False)),
                ('from_mhz', models.FloatField(editable=False, validators=[django.core.validators.MinValueValidator(0)], verbose_name='lowest frequency in MHz')),
                ('to_mhz', models.FloatField(editable=False, validators=[django.core.validators.MinValueValidator(0)], verbose_name='highest frequency in MHz')),
                ('loss_db', models.FloatField(blank=True, null=True, verbose_name='loss in dB')),
                ('at_mhz', models.FloatField(blank=True, null=True, verbose_name='read at, in MHz')),
                ('averaged_from_mhz', models.FloatField(blank=True, null=True, verbose_name='mean from, in MHz')),
                ('averaged_to_mhz', models.FloatField(blank=True, null=True, verbose_name='mean to, in MHz')),
                ('warnings', models.JSONField(blank=True, default=list)),
                ('load', models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='fleet.load')),
                ('reading', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='sweep', to='inspections.measurement')),
                ('recorded_by', models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('segment', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='sweeps', to='fleet.cablesegment')),
            ],
            options={
                'ordering': ['-measured_on', '-pk'],
                'indexes': [models.Index(fields=['sha256'], name='sweeps_of_a_file')],
                'constraints': [models.UniqueConstraint(fields=('sha256', 'segment', 'measured_on'), name='a_sweep_file_once_a_cable_a_day')],
            },
        ),
    ]
