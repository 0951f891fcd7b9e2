"""What a change costs beside the cable, and an event with a cable over; of the pool."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inspections', '0021_used_limits'),
    ]

    operations = [
        migrations.AlterField(
            model_name='historicalpolicyvalue',
            name='setting',
            field=models.CharField(choices=[('age_limit_years', 'Age limit'), ('event_limit', 'Event limit'), ('loss_limit_db', 'Loss limit'), ('accepted_risk', 'Accepted risk per cable'), ('look_ahead_days', 'Look-ahead'), ('reference_mhz', 'Reference frequency'), ('reading_uncertainty_db', 'Standard uncertainty of a reading'), ('measure_again_months', 'Measure again after'), ('own_readings_decide', 'Own readings decide'), ('wear_by_events', 'Wear follows'), ('has_bench', 'Has a bench'), ('cables_on_monday', 'Cables to change on a Monday'), ('cables_on_tuesday', 'Cables to change on a Tuesday'), ('cables_on_wednesday', 'Cables to change on a Wednesday'), ('cables_on_thursday', 'Cables to change on a Thursday'), ('cables_on_friday', 'Cables to change on a Friday'), ('cables_on_saturday', 'Cables to change on a Saturday'), ('cables_on_sunday', 'Cables to change on a Sunday'), ('minutes_per_change', 'Work to change a cable'), ('minutes_per_mat', 'Work to open a mat and close it again'), ('hour_price', 'Price of an hour of work'), ('event_cost_low', 'An event with a cable over costs at least'), ('event_cost_high', 'An event with a cable over costs at most')], max_length=40),
        ),
        migrations.AlterField(
            model_name='policyvalue',
            name='setting',
            field=models.CharField(choices=[('age_limit_years', 'Age limit'), ('event_limit', 'Event limit'), ('loss_limit_db', 'Loss limit'), ('accepted_risk', 'Accepted risk per cable'), ('look_ahead_days', 'Look-ahead'), ('reference_mhz', 'Reference frequency'), ('reading_uncertainty_db', 'Standard uncertainty of a reading'), ('measure_again_months', 'Measure again after'), ('own_readings_decide', 'Own readings decide'), ('wear_by_events', 'Wear follows'), ('has_bench', 'Has a bench'), ('cables_on_monday', 'Cables to change on a Monday'), ('cables_on_tuesday', 'Cables to change on a Tuesday'), ('cables_on_wednesday', 'Cables to change on a Wednesday'), ('cables_on_thursday', 'Cables to change on a Thursday'), ('cables_on_friday', 'Cables to change on a Friday'), ('cables_on_saturday', 'Cables to change on a Saturday'), ('cables_on_sunday', 'Cables to change on a Sunday'), ('minutes_per_change', 'Work to change a cable'), ('minutes_per_mat', 'Work to open a mat and close it again'), ('hour_price', 'Price of an hour of work'), ('event_cost_low', 'An event with a cable over costs at least'), ('event_cost_high', 'An event with a cable over costs at most')], max_length=40),
        ),
    ]
