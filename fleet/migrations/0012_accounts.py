"""Who is signed in and who tried to, links for phones, and the trail of accounts."""

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0011_where_a_cable_was_moved_from'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='SignInCount',
            fields=[
                ('key', models.CharField(max_length=64, primary_key=True, serialize=False)),
                ('failures', models.PositiveIntegerField(default=0)),
                ('last_at', models.DateTimeField()),
                ('wait_until', models.DateTimeField(null=True)),
            ],
        ),
        migrations.CreateModel(
            name='AccountChange',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('act', models.CharField(choices=[('made', 'Made'), ('role changed', 'Role'), ('password set', 'Password Set'), ('own password changed', 'Own Password'), ('deactivated', 'Deactivated'), ('reactivated', 'Reactivated'), ('sessions ended', 'Sessions Ended'), ('link made', 'Link Made'), ('link withdrawn', 'Link Withdrawn')], max_length=20)),
                ('detail', models.CharField(blank=True, max_length=200)),
                ('changed_at', models.DateTimeField(default=django.utils.timezone.now)),
                ('account', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='changes', to=settings.AUTH_USER_MODEL)),
                ('changed_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-changed_at', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='LogLink',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(help_text='Which phone or group it is for.', max_length=200)),
                ('secret_hash', models.CharField(editable=False, max_length=64, unique=True)),
                ('made_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('ends_on', models.DateField(help_text='The last day on which it signs anybody in.')),
                ('used_at', models.DateTimeField(blank=True, editable=False, null=True)),
                ('withdrawn_at', models.DateTimeField(blank=True, editable=False, null=True)),
                ('account', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='log_links', to=settings.AUTH_USER_MODEL)),
                ('made_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('withdrawn_by', models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-made_at', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='Session',
            fields=[
                ('session_data', models.TextField(verbose_name='session data')),
                ('expire_date', models.DateTimeField(db_index=True, verbose_name='expire date')),
                ('session_key', models.CharField(max_length=64, primary_key=True, serialize=False)),
                ('started_at', models.DateTimeField(default=django.utils.timezone.now)),
                ('seen_at', models.DateTimeField(default=django.utils.timezone.now)),
                ('address', models.CharField(blank=True, max_length=64)),
                ('device', models.CharField(blank=True, max_length=200)),
                ('account', models.ForeignKey(null=True, on_delete=django.db.models.deletion.CASCADE, related_name='sessions', to=settings.AUTH_USER_MODEL)),
                ('link', models.ForeignKey(null=True, on_delete=django.db.models.deletion.CASCADE, related_name='sessions', to='fleet.loglink')),
            ],
            options={
                'ordering': ['-seen_at'],
            },
        ),
        migrations.CreateModel(
            name='SignInTry',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('tried_at', models.DateTimeField(db_index=True, default=django.utils.timezone.now)),
                ('address', models.CharField(max_length=64)),
                ('outcome', models.CharField(choices=[('signed in', 'Signed In'), ('wrong', 'Wrong'), ('told to wait', 'Told To Wait'), ('deactivated', 'Deactivated'), ('by a link', 'Link')], max_length=20)),
                ('account', models.ForeignKey(null=True, on_delete=django.db.models.deletion.CASCADE, related_name='sign_in_tries', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-tried_at', '-pk'],
            },
        ),
        migrations.AddConstraint(
            model_name='loglink',
            constraint=models.CheckConstraint(condition=models.Q(('name', ''), _negated=True), name='a_log_link_says_whom_it_is_for'),
        ),
        migrations.AddConstraint(
            model_name='loglink',
            constraint=models.CheckConstraint(condition=models.Q(('withdrawn_by__isnull', True), ('withdrawn_at__isnull', False), _connector='OR'), name='who_withdrew_a_log_link_did_it_some_time'),
        ),
    ]
