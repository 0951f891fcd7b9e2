"""Each series has a code, by which files tell it from another of the same name."""

from collections import Counter

from django.db import migrations, models

import fleet.models.fields
from fleet.models.fields import code_key


def give_codes(apps, schema_editor):
    """S-2026-01 and on for the series that begin in 2026, in the order in which they were made; those that were
    deleted have theirs in the trail alone.
    """
    series, trail = apps.get_model("fleet", "EventSeries"), apps.get_model("fleet", "HistoricalEventSeries")
    years = dict(trail.objects.order_by("-history_date").values_list("id", "starts_on"))
    years |= dict(series.objects.values_list("pk", "starts_on"))
    numbers = Counter()
    for pk in sorted(years):
        year = years[pk].year
        numbers[year] += 1
        code = f"S-{year}-{numbers[year]:02d}"
        series.objects.filter(pk=pk).update(code=code, code_key=code_key(code))
        trail.objects.filter(id=pk).update(code=code)
    # PostgreSQL alters no table of which rows still wait to be checked
    schema_editor.connection.check_constraints()


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0024_morning_mail'),
    ]

    operations = [
        migrations.AddField(
            model_name='eventseries',
            name='code',
            field=fleet.models.fields.CodeField(max_length=60, null=True, verbose_name='series'),
        ),
        migrations.AddField(
            model_name='eventseries',
            name='code_key',
            field=fleet.models.fields.CodeKeyField('code', blank=True, editable=False, max_length=180, null=True, unique=True),
        ),
        migrations.AddField(
            model_name='historicaleventseries',
            name='code',
            field=fleet.models.fields.CodeField(db_index=True, default='', max_length=60, verbose_name='series'),
            preserve_default=False,
        ),
        migrations.RunPython(give_codes, migrations.RunPython.noop, elidable=False),
        migrations.AlterField(
            model_name='eventseries',
            name='code',
            field=fleet.models.fields.CodeField(max_length=60, unique=True, verbose_name='series'),
        ),
        migrations.AlterField(
            model_name='eventseries',
            name='code_key',
            field=fleet.models.fields.CodeKeyField('code', blank=True, editable=False, max_length=180, unique=True),
        ),
    ]
