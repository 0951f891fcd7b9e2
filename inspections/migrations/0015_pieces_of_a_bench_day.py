"""A bench day keeps how many reference pieces its shift rests on; words on bench days have a name in sentences."""

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
        migrations.AlterModelOptions(
            name='benchdaysaid',
            options={'ordering': ['-measured_on', 'pk'], 'verbose_name': 'word on a bench day', 'verbose_name_plural': 'words on bench days'},
        ),
        migrations.AlterModelOptions(
            name='historicalbenchdaysaid',
            options={'get_latest_by': ('history_date', 'history_id'), 'ordering': ('-history_date', '-history_id'), 'verbose_name': 'historical word on a bench day', 'verbose_name_plural': 'historical words on bench days'},
        ),
    ]
