"""What lies on the shelf, as a ledger that is only added to."""

import django.db.models.deletion
import django.utils.timezone
import fleet.validators
import simple_history.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0018_a_run_has_no_files'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='HistoricalStockEntry',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('number', models.PositiveIntegerField(db_index=True, verbose_name='entry')),
                ('day', models.DateField()),
                ('length_m', models.FloatField(validators=[fleet.validators.check_positive], verbose_name='length in m')),
                ('change', models.IntegerField()),
                ('left', models.PositiveIntegerField()),
                ('lot', models.CharField(blank=True, max_length=60)),
                ('reason', models.CharField(choices=[('received', 'Received'), ('fitted', 'Fitted'), ('returned', 'Returned'), ('counted', 'Counted'), ('scrapped', 'Scrapped'), ('moved', 'Moved')], max_length=10)),
                ('work_order', models.CharField(blank=True, max_length=60)),
                ('note', models.CharField(blank=True, max_length=200)),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.TextField(null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('cable_type', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='fleet.cabletype')),
                ('depot', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='fleet.depot')),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('load', models.ForeignKey(blank=True, db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='fleet.load')),
                ('recorded_by', models.ForeignKey(blank=True, db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('segment', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='fleet.cablesegment')),
            ],
            options={
                'verbose_name': 'historical entry of the shelf',
                'verbose_name_plural': 'historical entries of the shelf',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='StockEntry',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('number', models.PositiveIntegerField(unique=True, verbose_name='entry')),
                ('day', models.DateField()),
                ('length_m', models.FloatField(validators=[fleet.validators.check_positive], verbose_name='length in m')),
                ('change', models.IntegerField()),
                ('left', models.PositiveIntegerField()),
                ('lot', models.CharField(blank=True, max_length=60)),
                ('reason', models.CharField(choices=[('received', 'Received'), ('fitted', 'Fitted'), ('returned', 'Returned'), ('counted', 'Counted'), ('scrapped', 'Scrapped'), ('moved', 'Moved')], max_length=10)),
                ('work_order', models.CharField(blank=True, max_length=60)),
                ('note', models.CharField(blank=True, max_length=200)),
                ('cable_type', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='stock_entries', to='fleet.cabletype')),
                ('depot', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='stock_entries', to='fleet.depot')),
                ('load', models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='fleet.load')),
                ('recorded_by', models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('segment', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='stock_entries', to='fleet.cablesegment')),
            ],
            options={
                'verbose_name': 'entry of the shelf',
                'verbose_name_plural': 'entries of the shelf',
                'ordering': ['-number'],
                'indexes': [models.Index(fields=['cable_type', 'length_m'], name='stock_of_a_kind')],
                'constraints': [models.CheckConstraint(condition=models.Q(('change', 0), _negated=True), name='an_entry_changes_the_shelf'), models.CheckConstraint(condition=models.Q(('length_m__gt', 0)), name='stock_length_above_zero'), models.CheckConstraint(condition=models.Q(('segment', None), models.Q(('change', 1), ('left', 1)), models.Q(('change', -1), ('left', 0)), _connector='OR'), name='a_cable_is_on_the_shelf_or_not'), models.CheckConstraint(condition=models.Q(models.Q(('reason', 'received'), _negated=True), ('change__gt', 0), _connector='OR'), name='what_is_received_comes'), models.CheckConstraint(condition=models.Q(models.Q(('reason', 'scrapped'), _negated=True), ('change__lt', 0), _connector='OR'), name='what_is_scrapped_goes'), models.CheckConstraint(condition=models.Q(models.Q(('reason', 'counted'), _negated=True), models.Q(('note', ''), _negated=True), _connector='OR'), name='a_difference_has_a_reason')],
            },
        ),
    ]
