from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("inspections", "0001_initial")]

    operations = [
        # Rows are derived and rewritten by the next assessment; until then the limit is the usual one.
        migrations.AddField(
            "assessment",
            "age_limit_years",
            models.PositiveSmallIntegerField(default=3),
            preserve_default=False,
        ),
    ]
