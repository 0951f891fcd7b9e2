"""What rests on fittings that an update ended: assessments and open lines of work orders."""

from django.db import migrations
from django.db.models import Exists, OuterRef

from fleet.migrations._one_at_a_time import REASON


def follow(apps, schema_editor):
    if not apps.get_model("fleet", "HistoricalFitting").objects.filter(history_change_reason=REASON).exists():
        return
    apps.get_model("inspections", "PoolState").objects.update(assessed_on=None)
    there = apps.get_model("fleet", "Fitting").objects.filter(
        segment=OuterRef("segment"), mat=OuterRef("work_order__mat"), position=OuterRef("position"), removed_on=None
    )
    open_lines = apps.get_model("inspections", "WorkOrderLine").objects.filter(is_open=True)
    open_lines.exclude(Exists(there)).update(is_open=False)


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0005_one_at_a_time"),
        ("inspections", "0006_no_detection_goal"),
    ]

    operations = [migrations.RunPython(follow, migrations.RunPython.noop)]
