"""A run of *Start here* is a load without files."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("fleet", "0017_rights_by_role_alone")]

    operations = [
        migrations.AlterField(model_name="load", name="files", field=models.JSONField(blank=True, default=dict)),
    ]
