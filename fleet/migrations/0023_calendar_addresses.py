"""Secret addresses of the calendar, of which an account has one at most."""

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0022_prices'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AlterField(
            model_name='accountchange',
            name='act',
            field=models.CharField(choices=[('made', 'Made'), ('role changed', 'Role'), ('password set', 'Password Set'), ('own password changed', 'Own Password'), ('deactivated', 'Deactivated'), ('reactivated', 'Reactivated'), ('sessions ended', 'Sessions Ended'), ('link made', 'Link Made'), ('link withdrawn', 'Link Withdrawn'), ('calendar link made', 'Calendar Made'), ('calendar link ended', 'Calendar Ended')], max_length=20),
        ),
        migrations.CreateModel(
            name='CalendarFeed',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('secret_hash', models.CharField(editable=False, max_length=64, unique=True)),
                ('made_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('fetched_at', models.DateTimeField(blank=True, editable=False, null=True)),
                ('account', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='calendar_feed', to=settings.AUTH_USER_MODEL)),
            ],
        ),
    ]
