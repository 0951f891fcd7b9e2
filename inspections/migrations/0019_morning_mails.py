"""Morning mails that were sent, one a depot and day."""

import django.db.models.deletion
import django.utils.timezone
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0024_morning_mail'),
        ('inspections', '0018_days_of_work'),
    ]

    operations = [
        migrations.CreateModel(
            name='Digest',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('day', models.DateField()),
                ('begun_at', models.DateTimeField(default=django.utils.timezone.now)),
                ('sent_at', models.DateTimeField(null=True)),
                ('said', models.JSONField(default=dict)),
                ('depot', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.CASCADE, related_name='+', to='fleet.depot')),
            ],
            options={
                'ordering': ['-day', 'depot'],
                'constraints': [models.UniqueConstraint(fields=('depot', 'day'), name='one_digest_a_depot_and_day')],
            },
        ),
    ]
