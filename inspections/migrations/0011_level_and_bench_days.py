"""The line of a cable is kept as of its last reading, bench days with it: all that follows from records is made anew."""

import django.db.models.deletion
from django.db import migrations, models


def assess_again(apps, schema_editor):
    """Derived rows: the first page that needs them fits the pool and computes all of them afresh."""
    for derived in ("Assessment", "PoolTrend"):
        apps.get_model("inspections", derived).objects.all().delete()
    apps.get_model("inspections", "PoolState").objects.update(assessed_on=None)


class Migration(migrations.Migration):

    dependencies = [
        ('inspections', '0010_order_signed_off'),
    ]

    operations = [
        migrations.RunPython(assess_again, migrations.RunPython.noop),
        migrations.RemoveField(
            model_name='assessment',
            name='trend_intercept_db',
        ),
        migrations.AddField(
            model_name='assessment',
            name='trend_departure',
            field=models.FloatField(null=True),
        ),
        migrations.AddField(
            model_name='assessment',
            name='trend_level_db',
            field=models.FloatField(null=True),
        ),
        migrations.AddField(
            model_name='assessment',
            name='trend_level_on',
            field=models.DateField(null=True),
        ),
        migrations.AddField(
            model_name='pooltrend',
            name='left_out',
            field=models.JSONField(blank=True, default=list),
        ),
        migrations.CreateModel(
            name='BenchDay',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('measured_on', models.DateField()),
                ('shift_db', models.FloatField(null=True)),
                ('shift_sd_db', models.FloatField(null=True)),
                ('readings', models.PositiveIntegerField()),
                ('in_fit', models.BooleanField(default=True)),
                ('instrument', models.ForeignKey(null=True, on_delete=django.db.models.deletion.CASCADE, related_name='bench_days', to='inspections.instrument')),
            ],
            options={
                'ordering': ['-measured_on', 'pk'],
                'constraints': [models.UniqueConstraint(fields=('measured_on', 'instrument'), name='one_bench_day_of_an_instrument'), models.UniqueConstraint(condition=models.Q(('instrument', None)), fields=('measured_on',), name='one_bench_day_without_an_instrument')],
            },
        ),
    ]
