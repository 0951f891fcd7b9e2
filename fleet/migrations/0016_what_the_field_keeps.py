"""Which pool this is, when mats came home, photos of faults, and loads that can be taken back."""

import django.core.validators
import django.db.models.deletion
import django.utils.timezone
import simple_history.models
import uuid
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0015_link_that_does_not_work'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='FaultPhoto',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('sha256', models.CharField(db_index=True, max_length=64, validators=[django.core.validators.RegexValidator('\\A[0-9a-f]{64}\\Z')])),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='HistoricalFaultPhoto',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('sha256', models.CharField(db_index=True, max_length=64, validators=[django.core.validators.RegexValidator('\\A[0-9a-f]{64}\\Z')])),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.TextField(null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
            ],
            options={
                'verbose_name': 'historical fault photo',
                'verbose_name_plural': 'historical fault photos',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='Pool',
            fields=[
                ('number', models.PositiveSmallIntegerField(default=1, primary_key=True, serialize=False)),
                ('uid', models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
            ],
        ),
        migrations.AddField(
            model_name='historicalmat',
            name='acquired_basis',
            field=models.CharField(choices=[('known', 'Known'), ('about', 'About')], default='known', max_length=10),
        ),
        migrations.AddField(
            model_name='historicalusageevent',
            name='home_on',
            field=models.DateField(blank=True, null=True, verbose_name='came home on'),
        ),
        migrations.AddField(
            model_name='load',
            name='source',
            field=models.CharField(choices=[('files', 'Files'), ('Start here', 'Start Here')], default='files', max_length=12),
        ),
        migrations.AddField(
            model_name='load',
            name='taken_back_at',
            field=models.DateTimeField(blank=True, editable=False, null=True),
        ),
        migrations.AddField(
            model_name='load',
            name='taken_back_by',
            field=models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='mat',
            name='acquired_basis',
            field=models.CharField(choices=[('known', 'Known'), ('about', 'About')], default='known', max_length=10),
        ),
        migrations.AddField(
            model_name='usageevent',
            name='home_on',
            field=models.DateField(blank=True, null=True, verbose_name='came home on'),
        ),
        migrations.AddConstraint(
            model_name='usageevent',
            constraint=models.CheckConstraint(condition=models.Q(('home_on__isnull', True), models.Q(('state', 'called off'), _negated=True), _connector='OR'), name='what_stayed_at_home_does_not_come_home'),
        ),
        migrations.AddField(
            model_name='faultphoto',
            name='fault',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='photos', to='fleet.fault'),
        ),
        migrations.AddField(
            model_name='faultphoto',
            name='load',
            field=models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='fleet.load'),
        ),
        migrations.AddField(
            model_name='faultphoto',
            name='recorded_by',
            field=models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='historicalfaultphoto',
            name='fault',
            field=models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='fleet.fault'),
        ),
        migrations.AddField(
            model_name='historicalfaultphoto',
            name='history_user',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='historicalfaultphoto',
            name='load',
            field=models.ForeignKey(blank=True, db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='fleet.load'),
        ),
        migrations.AddField(
            model_name='historicalfaultphoto',
            name='recorded_by',
            field=models.ForeignKey(blank=True, db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddConstraint(
            model_name='pool',
            constraint=models.CheckConstraint(condition=models.Q(('number', 1)), name='one_pool_a_database'),
        ),
        migrations.AddConstraint(
            model_name='faultphoto',
            constraint=models.UniqueConstraint(fields=('fault', 'sha256'), name='a_photo_once_at_a_fault'),
        ),
    ]
