from django.db import migrations, models

SETTINGS = {
    "age_limit_years": "Age limit",
    "event_limit": "Event limit",
    "loss_limit_db": "Loss limit",
    "accepted_risk": "Accepted risk per cable",
    "look_ahead_days": "Look-ahead",
    "reference_mhz": "Reference frequency",
    "reading_uncertainty_db": "Standard uncertainty of a reading",
    "measure_again_months": "Measure again after",
    "wear_by_events": "Wear follows",
    "has_bench": "Has a bench",
}


class Migration(migrations.Migration):
    dependencies = [
        ("inspections", "0005_plain_words"),
    ]

    # rows of a setting that is no more stay as they are
    operations = [
        migrations.AlterField(model, "setting", models.CharField(choices=list(SETTINGS.items()), max_length=40))
        for model in ("policyvalue", "historicalpolicyvalue")
    ]
