"""What was connected how, what a go/no-go tester said, reference pieces, and what people said of bench days."""

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
        ('auth', '__first__'),
        ('fleet', '0018_a_run_has_no_files'),
        ('inspections', '0012_readings_of_a_day'),
    ]

    operations = [
        migrations.CreateModel(
            name='ReferencePiece',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('withdrawn_on', models.DateField(blank=True, null=True)),
                ('withdrawal_reason', models.CharField(blank=True, max_length=200)),
                ('name', fleet.models.fields.CodeField(max_length=60, unique=True, verbose_name='reference piece')),
                ('name_key', fleet.models.fields.CodeKeyField('name', blank=True, editable=False, max_length=180, unique=True)),
                ('depot', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='reference_pieces', to='fleet.depot')),
                ('load', models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='fleet.load')),
                ('recorded_by', models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['name'],
            },
        ),
        migrations.CreateModel(
            name='AgreedValue',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('agreed_on', models.DateField()),
                ('agreed_loss_db', models.FloatField(blank=True, null=True, validators=[inspections.validators.check_loss_db], verbose_name='agreed loss in dB')),
                ('uncertainty_db', models.FloatField(blank=True, null=True, validators=[fleet.validators.check_positive], verbose_name='standard uncertainty in dB')),
                ('basis', models.CharField(blank=True, max_length=200)),
                ('load', models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='fleet.load')),
                ('recorded_by', models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('piece', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='values', to='inspections.referencepiece')),
            ],
            options={
                'ordering': ['piece__name', 'agreed_on'],
                'constraints': [models.UniqueConstraint(fields=('piece', 'agreed_on'), name='one_agreed_value_a_day'), models.CheckConstraint(condition=models.Q(models.Q(('agreed_loss_db__isnull', True), ('uncertainty_db__isnull', True)), models.Q(('agreed_loss_db__isnull', False), ('uncertainty_db__isnull', False)), _connector='OR'), name='agreed_with_its_uncertainty')],
            },
        ),
        migrations.CreateModel(
            name='BenchDaySaid',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('measured_on', models.DateField()),
                ('looked_on', models.DateField(blank=True, null=True)),
                ('found', models.CharField(blank=True, max_length=200)),
                ('not_trusted_reason', models.CharField(blank=True, max_length=200)),
                ('instrument', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='said_of_days', to='inspections.instrument')),
                ('load', models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='fleet.load')),
                ('recorded_by', models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-measured_on', 'pk'],
                'constraints': [models.UniqueConstraint(fields=('measured_on', 'instrument'), name='said_once_of_a_bench_day'), models.UniqueConstraint(condition=models.Q(('instrument', None)), fields=('measured_on',), name='said_once_of_a_day_without_an_instrument'), models.CheckConstraint(condition=models.Q(('looked_on__isnull', True), ('looked_on__gte', models.F('measured_on')), _connector='OR'), name='looked_at_after_the_day')],
            },
        ),
        migrations.CreateModel(
            name='ReferenceReading',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('measured_on', models.DateField()),
                ('repeat', models.PositiveSmallIntegerField(default=1, verbose_name='repeat of that day')),
                ('loss_db', models.FloatField(validators=[inspections.validators.check_loss_db], verbose_name='loss in dB')),
                ('instrument', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='reference_readings', to='inspections.instrument')),
                ('load', models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='fleet.load')),
                ('piece', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='readings', to='inspections.referencepiece')),
                ('recorded_by', models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['piece__name', '-measured_on', 'repeat'],
                'indexes': [models.Index(fields=['measured_on'], name='piece_readings_of_a_day')],
                'constraints': [models.UniqueConstraint(fields=('piece', 'measured_on', 'repeat'), name='one_piece_reading_of_a_repeat')],
            },
        ),
        migrations.CreateModel(
            name='HistoricalAgreedValue',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('agreed_on', models.DateField()),
                ('agreed_loss_db', models.FloatField(blank=True, null=True, validators=[inspections.validators.check_loss_db], verbose_name='agreed loss in dB')),
                ('uncertainty_db', models.FloatField(blank=True, null=True, validators=[fleet.validators.check_positive], verbose_name='standard uncertainty in dB')),
                ('basis', models.CharField(blank=True, max_length=200)),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.TextField(null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('load', models.ForeignKey(blank=True, db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='fleet.load')),
                ('recorded_by', models.ForeignKey(blank=True, db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('piece', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='inspections.referencepiece')),
            ],
            options={
                'verbose_name': 'historical agreed value',
                'verbose_name_plural': 'historical agreed values',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='HistoricalBenchDaySaid',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('measured_on', models.DateField()),
                ('looked_on', models.DateField(blank=True, null=True)),
                ('found', models.CharField(blank=True, max_length=200)),
                ('not_trusted_reason', models.CharField(blank=True, max_length=200)),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.TextField(null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('instrument', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='inspections.instrument')),
                ('load', models.ForeignKey(blank=True, db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='fleet.load')),
                ('recorded_by', models.ForeignKey(blank=True, db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name': 'historical bench day said',
                'verbose_name_plural': 'historical bench day saids',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='HistoricalReferencePiece',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('withdrawn_on', models.DateField(blank=True, null=True)),
                ('withdrawal_reason', models.CharField(blank=True, max_length=200)),
                ('name', fleet.models.fields.CodeField(db_index=True, max_length=60, verbose_name='reference piece')),
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
                'verbose_name': 'historical reference piece',
                'verbose_name_plural': 'historical reference pieces',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='HistoricalReferenceReading',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('measured_on', models.DateField()),
                ('repeat', models.PositiveSmallIntegerField(default=1, verbose_name='repeat of that day')),
                ('loss_db', models.FloatField(validators=[inspections.validators.check_loss_db], verbose_name='loss in dB')),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.TextField(null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('instrument', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='inspections.instrument')),
                ('load', models.ForeignKey(blank=True, db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='fleet.load')),
                ('recorded_by', models.ForeignKey(blank=True, db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('piece', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='inspections.referencepiece')),
            ],
            options={
                'verbose_name': 'historical reference reading',
                'verbose_name_plural': 'historical reference readings',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.RemoveConstraint(
            model_name='measurement',
            name='a_loss_or_no_signal',
        ),
        migrations.AddField(
            model_name='assessment',
            name='go_no_go',
            field=models.BooleanField(default=False),
        ),
        migrations.AddField(
            model_name='historicalinstrument',
            name='kind',
            field=models.CharField(blank=True, choices=[('two-port', 'two-port'), ('response only', 'response only'), ('one-port', 'one-port'), ('loss meter', 'loss meter'), ('go/no-go', 'go/no-go')], max_length=20),
        ),
        migrations.AddField(
            model_name='historicalinstrument',
            name='leads_taken_out',
            field=models.BooleanField(default=False, verbose_name='leads are taken out by a through reading'),
        ),
        migrations.AddField(
            model_name='historicalinstrument',
            name='repeatability_db',
            field=models.FloatField(blank=True, null=True, validators=[fleet.validators.check_positive], verbose_name='repeatability in dB'),
        ),
        migrations.AddField(
            model_name='historicalinstrument',
            name='set_limit_db',
            field=models.FloatField(blank=True, null=True, validators=[fleet.validators.check_positive], verbose_name='set limit in dB'),
        ),
        migrations.AddField(
            model_name='historicalmeasurement',
            name='go_no_go',
            field=models.CharField(blank=True, choices=[('within', 'within'), ('over', 'over')], max_length=10),
        ),
        migrations.AddField(
            model_name='historicalmeasurement',
            name='method',
            field=models.CharField(blank=True, choices=[('through', 'through'), ('far end open', 'far end open'), ('far end shorted', 'far end shorted'), ('on its element', 'on its element'), ('not referenced', 'not referenced')], max_length=20),
        ),
        migrations.AddField(
            model_name='instrument',
            name='kind',
            field=models.CharField(blank=True, choices=[('two-port', 'two-port'), ('response only', 'response only'), ('one-port', 'one-port'), ('loss meter', 'loss meter'), ('go/no-go', 'go/no-go')], max_length=20),
        ),
        migrations.AddField(
            model_name='instrument',
            name='leads_taken_out',
            field=models.BooleanField(default=False, verbose_name='leads are taken out by a through reading'),
        ),
        migrations.AddField(
            model_name='instrument',
            name='repeatability_db',
            field=models.FloatField(blank=True, null=True, validators=[fleet.validators.check_positive], verbose_name='repeatability in dB'),
        ),
        migrations.AddField(
            model_name='instrument',
            name='set_limit_db',
            field=models.FloatField(blank=True, null=True, validators=[fleet.validators.check_positive], verbose_name='set limit in dB'),
        ),
        migrations.AddField(
            model_name='measurement',
            name='go_no_go',
            field=models.CharField(blank=True, choices=[('within', 'within'), ('over', 'over')], max_length=10),
        ),
        migrations.AddField(
            model_name='measurement',
            name='method',
            field=models.CharField(blank=True, choices=[('through', 'through'), ('far end open', 'far end open'), ('far end shorted', 'far end shorted'), ('on its element', 'on its element'), ('not referenced', 'not referenced')], max_length=20),
        ),
        migrations.AlterField(
            model_name='historicalinstrument',
            name='standard_uncertainty_db',
            field=models.FloatField(blank=True, null=True, validators=[fleet.validators.check_positive], verbose_name='standard uncertainty in dB'),
        ),
        migrations.AlterField(
            model_name='instrument',
            name='standard_uncertainty_db',
            field=models.FloatField(blank=True, null=True, validators=[fleet.validators.check_positive], verbose_name='standard uncertainty in dB'),
        ),
        migrations.AddConstraint(
            model_name='measurement',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('go_no_go', ''), ('loss_db__isnull', True), ('no_signal', True)), models.Q(('go_no_go', ''), ('loss_db__isnull', False), ('no_signal', False)), models.Q(('loss_db__isnull', True), ('no_signal', False), models.Q(('go_no_go', ''), _negated=True)), _connector='OR'), name='a_loss_no_signal_or_go_no_go'),
        ),
    ]
