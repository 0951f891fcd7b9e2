"""A bench day keeps how many reference pieces its shift rests on."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inspections', '0014_batches_and_records'),
    ]

    operations = [
        migrations.AddField(
            model_name='benchday',
            name='piece_readings',
            field=models.PositiveIntegerField(default=0),
        ),
    ]
