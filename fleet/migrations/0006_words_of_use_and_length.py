"""Usual use, faults that dry, and lengths that nobody measured have words of their own."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0005_one_at_a_time'),
    ]

    operations = [
        migrations.AddField(
            model_name='cablesegment',
            name='length_basis',
            field=models.CharField(choices=[('known', 'Known'), ('estimated', 'Estimated')], default='known', max_length=10),
        ),
        migrations.AddField(
            model_name='designposition',
            name='length_basis',
            field=models.CharField(choices=[('known', 'Known'), ('estimated', 'Estimated')], default='known', max_length=10),
        ),
        migrations.AddField(
            model_name='historicalcablesegment',
            name='length_basis',
            field=models.CharField(choices=[('known', 'Known'), ('estimated', 'Estimated')], default='known', max_length=10),
        ),
        migrations.AddField(
            model_name='historicaldesignposition',
            name='length_basis',
            field=models.CharField(choices=[('known', 'Known'), ('estimated', 'Estimated')], default='known', max_length=10),
        ),
        migrations.AlterField(
            model_name='fault',
            name='end_reason',
            field=models.CharField(blank=True, choices=[('change', 'Change'), ('repair', 'Repair'), ('dried', 'Dried'), ('looked at, nothing found', 'Nothing Found')], max_length=30),
        ),
        migrations.AlterField(
            model_name='historicalfault',
            name='end_reason',
            field=models.CharField(blank=True, choices=[('change', 'Change'), ('repair', 'Repair'), ('dried', 'Dried'), ('looked at, nothing found', 'Nothing Found')], max_length=30),
        ),
        migrations.AlterField(
            model_name='historicalusageevent',
            name='basis',
            field=models.CharField(choices=[('counted', 'Counted'), ('reported', 'Reported'), ('assumed', 'Assumed'), ('usual', 'Usual')], default='counted', max_length=10),
        ),
        migrations.AlterField(
            model_name='usageevent',
            name='basis',
            field=models.CharField(choices=[('counted', 'Counted'), ('reported', 'Reported'), ('assumed', 'Assumed'), ('usual', 'Usual')], default='counted', max_length=10),
        ),
    ]
