"""Waits that somebody was told, old passwords that were guessed, and counts found by age."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0013_earlier_sessions_end'),
    ]

    operations = [
        migrations.AddField(
            model_name='signincount',
            name='told',
            field=models.BooleanField(default=False),
        ),
        migrations.AlterField(
            model_name='signincount',
            name='last_at',
            field=models.DateTimeField(db_index=True),
        ),
        migrations.AlterField(
            model_name='signintry',
            name='outcome',
            field=models.CharField(choices=[('signed in', 'Signed In'), ('wrong', 'Wrong'), ('told to wait', 'Told To Wait'), ('deactivated', 'Deactivated'), ('wrong old password', 'Old Password'), ('by a link', 'Link')], max_length=20),
        ),
    ]
