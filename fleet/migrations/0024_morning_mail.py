"""Depots have addresses to which their morning mail goes."""

import fleet.validators
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0023_calendar_addresses'),
    ]

    operations = [
        migrations.AddField(
            model_name='depot',
            name='mail',
            field=models.CharField(blank=True, max_length=500, validators=[fleet.validators.check_mail_addresses], verbose_name='morning mail to'),
        ),
        migrations.AddField(
            model_name='historicaldepot',
            name='mail',
            field=models.CharField(blank=True, max_length=500, validators=[fleet.validators.check_mail_addresses], verbose_name='morning mail to'),
        ),
    ]
