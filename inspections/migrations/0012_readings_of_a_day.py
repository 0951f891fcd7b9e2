"""Readings are found by their day, whatever the size of the pool."""

from django.db import migrations, models


def check_rows(apps, schema_editor):
    """PostgreSQL indexes no table of which rows still wait to be checked, as those of a back-up do."""
    schema_editor.connection.check_constraints()


class Migration(migrations.Migration):

    dependencies = [
        ('inspections', '0011_level_and_bench_days'),
    ]

    operations = [
        migrations.RunPython(check_rows, migrations.RunPython.noop),
        migrations.AddIndex(
            model_name='measurement',
            index=models.Index(fields=['measured_on'], name='readings_of_a_day'),
        ),
    ]
