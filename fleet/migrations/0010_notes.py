"""Notes on a mat, a cable or an event."""

import django.db.models.deletion
import django.utils.timezone
import fleet.models.fields
import simple_history.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0009_what_a_change_keeps'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='HistoricalNote',
            fields=[
                ('id', models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('code', fleet.models.fields.CodeField(db_index=True, max_length=60, verbose_name='note')),
                ('about', models.CharField(choices=[('mat', 'Mat'), ('segment', 'Segment'), ('event', 'Event')], max_length=10)),
                ('noted_on', models.DateField()),
                ('text', models.CharField(max_length=500, verbose_name='note')),
                ('written_by', models.CharField(blank=True, max_length=100)),
                ('done_on', models.DateField(blank=True, null=True)),
                ('history_id', models.AutoField(primary_key=True, serialize=False)),
                ('history_date', models.DateTimeField(db_index=True)),
                ('history_change_reason', models.TextField(null=True)),
                ('history_type', models.CharField(choices=[('+', 'Created'), ('~', 'Changed'), ('-', 'Deleted')], max_length=1)),
                ('event', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='fleet.event')),
                ('history_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('load', models.ForeignKey(blank=True, db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='fleet.load')),
                ('mat', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='fleet.mat')),
                ('recorded_by', models.ForeignKey(blank=True, db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('segment', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='fleet.cablesegment')),
            ],
            options={
                'verbose_name': 'historical note',
                'verbose_name_plural': 'historical notes',
                'ordering': ('-history_date', '-history_id'),
                'get_latest_by': ('history_date', 'history_id'),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name='Note',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('code', fleet.models.fields.CodeField(max_length=60, unique=True, verbose_name='note')),
                ('code_key', fleet.models.fields.CodeKeyField('code', blank=True, editable=False, max_length=180, unique=True)),
                ('about', models.CharField(choices=[('mat', 'Mat'), ('segment', 'Segment'), ('event', 'Event')], max_length=10)),
                ('noted_on', models.DateField()),
                ('text', models.CharField(max_length=500, verbose_name='note')),
                ('written_by', models.CharField(blank=True, max_length=100)),
                ('done_on', models.DateField(blank=True, null=True)),
                ('event', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='notes', to='fleet.event')),
                ('load', models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='fleet.load')),
                ('mat', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='notes', to='fleet.mat')),
                ('recorded_by', models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('segment', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='notes', to='fleet.cablesegment')),
            ],
            options={
                'ordering': ['-noted_on', '-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('about', 'mat'), ('event__isnull', True), ('mat__isnull', False), ('segment__isnull', True)), models.Q(('about', 'segment'), ('event__isnull', True), ('mat__isnull', True), ('segment__isnull', False)), models.Q(('about', 'event'), ('event__isnull', False), ('mat__isnull', True), ('segment__isnull', True)), _connector='OR'), name='a_note_is_about_one_thing'), models.CheckConstraint(condition=models.Q(('text', ''), _negated=True), name='a_note_says_something'), models.CheckConstraint(condition=models.Q(('done_on__isnull', True), ('done_on__gte', models.F('noted_on')), _connector='OR'), name='a_note_is_done_after_it_began')],
            },
        ),
    ]
