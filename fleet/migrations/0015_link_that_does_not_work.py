"""Somebody pressed the button of a link that was withdrawn, is over, or never was."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0014_sign_in_waits'),
    ]

    operations = [
        migrations.AlterField(
            model_name='signintry',
            name='outcome',
            field=models.CharField(choices=[('signed in', 'Signed In'), ('wrong', 'Wrong'), ('told to wait', 'Told To Wait'), ('deactivated', 'Deactivated'), ('wrong old password', 'Old Password'), ('by a link', 'Link'), ('link does not work', 'Wrong Link')], max_length=20),
        ),
    ]
