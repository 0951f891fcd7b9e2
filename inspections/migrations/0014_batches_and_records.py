"""Batches of loose cables with their values, and records of mats."""

import django.db.models.deletion
import django.utils.timezone
import fleet.models.fields
import fleet.validators
import inspections.validators
import simple_history.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0018_a_run_has_no_files'),
        ('inspections', '0013_bench_kept'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Batch',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('number', fleet.models.fields.CodeField(max_length=60, unique=True, verbose_name='batch')),
                ('number_key', fleet.models.fields.CodeKeyField('number', blank=True, editable=False, max_length=180, unique=True)),
                ('holds', models.CharField(choices=[('new', 'New'), ('from a box', 'Loose')], default='new', max_length=10, verbose_name='what it holds')),
                ('length_m', models.FloatField(validators=[fleet.validators.check_positive], verbose_name='length in m')),
                ('lot', models.CharField(blank=True, max_length=60)),
                ('measured_on', models.DateField()),
                ('method', models.CharField(blank=True, choices=[('through', 'through'), ('far end open', 'far end open'), ('far end shorted', 'far end shorted'), ('on its element', 'on its element'), ('not referenced', 'not referenced')], max_length=20)),
                ('frequency_mhz', models.FloatField(blank=True, null=True, validators=[inspections.validators.check_frequency_mhz], verbose_name='frequency in MHz')),
                ('temperature_c', models.FloatField(blank=True, null=True, validators=[inspections.validators.check_temperature_c], verbose_name='temperature in °C')),
                ('measured_by', models.CharField(blank=True, max_length=100)),
                ('ended_on', models.DateField(blank=True, null=True)),
                ('judged', models.JSONField(blank=True, default=dict)),
                ('cable_type', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='batches', to='fleet.cabletype')),
                ('depot', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='batches', to='fleet.depot')),
                ('instrument', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='batches', to='inspections.instrument')),
                ('load', models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='fleet.load')),
                ('recorded_by', models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name_plural': 'batches',
                'ordering': ['-measured_on', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='BatchValue',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('cable', models.PositiveSmallIntegerField(verbose_name='number in the batch')),
                ('attempt', models.PositiveSmallIntegerField(default=1, verbose_name='reading of that cable')),
                ('loss_db', models.FloatField(blank=True, null=True, validators=[inspections.validators.check_loss_db], verbose_name='loss in dB')),
                ('no_signal', models.BooleanField(default=False)),
                ('go_no_go', models.CharField(blank=True, choices=[('within', 'within'), ('over', 'over')], max_length=10)),
                ('serial', fleet.models.fields.CodeField(blank=True, max_length=60)),
                ('struck_on', models.DateField(blank=True, null=True)),
                ('strike_reason', models.CharField(blank=True, max_length=200)),
                ('batch', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='values', to='inspections.batch')),
                ('load', models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='fleet.load')),
                ('recorded_by', models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('segment', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='batch_values', to='fleet.cablesegment')),
            ],
            options={
                'ordering': ['batch', 'cable', 'attempt'],
            },
        ),
        migrations.CreateModel(
            name='HistoricalBatch',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('number', fleet.models.fields.CodeField(db_index=True, max_length=60, verbose_name='batch')),
                ('holds', models.CharField(choices=[('new', 'New'), ('from a box', 'Loose')], default='new', max_length=10, verbose_name='what it holds')),
                ('length_m', models.FloatField(validators=[fleet.validators.check_positive], verbose_name='length in m')),
                ('lot', models.CharField(blank=True, max_length=60)),
                ('measured_on', models.DateField()),
                ('method', models.CharField(blank=True, choices=[('through', 'through'), ('far end open', 'far end open'), ('far end shorted', 'far end shorted'), ('on its element', 'on its element'), ('not referenced', 'not referenced')], max_length=20)),
                ('frequency_mhz', models.FloatField(blank=True, null=True, validators=[inspections.validators.check_frequency_mhz], verbose_name='frequency in MHz')),
                ('temperature_c', models.FloatField(blank=True, null=True, validators=[inspections.validators.check_temperature_c], verbose_name='temperature in °C')),
                ('measured_by', models.CharField(blank=True, max_length=100)),
                ('ended_on', models.DateField(blank=True, null=True)),
                ('judged', models.JSONField(blank=True, default=dict)),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.TextField(null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('cable_type', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='fleet.cabletype')),
                ('depot', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='fleet.depot')),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('instrument', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='inspections.instrument')),
                ('load', models.ForeignKey(blank=True, db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='fleet.load')),
                ('recorded_by', models.ForeignKey(blank=True, db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name': 'historical batch',
                'verbose_name_plural': 'historical batches',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='HistoricalBatchValue',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('cable', models.PositiveSmallIntegerField(verbose_name='number in the batch')),
                ('attempt', models.PositiveSmallIntegerField(default=1, verbose_name='reading of that cable')),
                ('loss_db', models.FloatField(blank=True, null=True, validators=[inspections.validators.check_loss_db], verbose_name='loss in dB')),
                ('no_signal', models.BooleanField(default=False)),
                ('go_no_go', models.CharField(blank=True, choices=[('within', 'within'), ('over', 'over')], max_length=10)),
                ('serial', fleet.models.fields.CodeField(blank=True, max_length=60)),
                ('struck_on', models.DateField(blank=True, null=True)),
                ('strike_reason', models.CharField(blank=True, max_length=200)),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.TextField(null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('batch', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='inspections.batch')),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('load', models.ForeignKey(blank=True, db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='fleet.load')),
                ('recorded_by', models.ForeignKey(blank=True, db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('segment', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='fleet.cablesegment')),
            ],
            options={
                'verbose_name': 'historical batch value',
                'verbose_name_plural': 'historical batch values',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='HistoricalMatRecord',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('withdrawn_on', models.DateField(blank=True, null=True)),
                ('withdrawal_reason', models.CharField(blank=True, max_length=200)),
                ('number', fleet.models.fields.CodeField(db_index=True, max_length=60, verbose_name='record')),
                ('from_on', models.DateField(blank=True, null=True)),
                ('until_on', models.DateField()),
                ('made_for', models.CharField(blank=True, max_length=100)),
                ('content', models.JSONField(default=dict)),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.TextField(null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('load', models.ForeignKey(blank=True, db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='fleet.load')),
                ('mat', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='fleet.mat')),
                ('recorded_by', models.ForeignKey(blank=True, db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name': 'historical mat record',
                'verbose_name_plural': 'historical mat records',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='MatRecord',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('withdrawn_on', models.DateField(blank=True, null=True)),
                ('withdrawal_reason', models.CharField(blank=True, max_length=200)),
                ('number', fleet.models.fields.CodeField(max_length=60, unique=True, verbose_name='record')),
                ('number_key', fleet.models.fields.CodeKeyField('number', blank=True, editable=False, max_length=180, unique=True)),
                ('from_on', models.DateField(blank=True, null=True)),
                ('until_on', models.DateField()),
                ('made_for', models.CharField(blank=True, max_length=100)),
                ('content', models.JSONField(default=dict)),
                ('load', models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='fleet.load')),
                ('mat', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='records', to='fleet.mat')),
                ('recorded_by', models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-until_on', '-pk'],
            },
        ),
        migrations.AddConstraint(
            model_name='batch',
            constraint=models.CheckConstraint(condition=models.Q(('ended_on__isnull', True), ('ended_on__gte', models.F('measured_on')), _connector='OR'), name='batch_ends_after_measured'),
        ),
        migrations.AddConstraint(
            model_name='batchvalue',
            constraint=models.UniqueConstraint(fields=('batch', 'cable', 'attempt'), name='one_value_of_an_attempt'),
        ),
        migrations.AddConstraint(
            model_name='batchvalue',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('go_no_go', ''), ('loss_db__isnull', True), ('no_signal', True)), models.Q(('go_no_go', ''), ('loss_db__isnull', False), ('no_signal', False)), models.Q(('loss_db__isnull', True), ('no_signal', False), models.Q(('go_no_go', ''), _negated=True)), _connector='OR'), name='a_batch_value_is_one_of_three'),
        ),
        migrations.AddConstraint(
            model_name='batchvalue',
            constraint=models.CheckConstraint(condition=models.Q(('loss_db__isnull', True), ('loss_db__gte', 0), _connector='OR'), name='batch_loss_not_negative'),
        ),
        migrations.AddConstraint(
            model_name='matrecord',
            constraint=models.CheckConstraint(condition=models.Q(('from_on__isnull', True), ('from_on__lte', models.F('until_on')), _connector='OR'), name='a_record_ends_after_it_begins'),
        ),
    ]
