"""Connectors of a cable type. Steps of work end their lines in one way, as files write them."""

from django.db import migrations
from django.db.models import Value
from django.db.models.functions import Replace

import fleet.models.fields


def _connector(model, end, label):
    field = fleet.models.fields.LineField(blank=True, max_length=100, verbose_name=label)
    return migrations.AddField(model_name=model, name=f"connector_{end}", field=field)


def end_lines_alike(apps, schema_editor):
    """What forms sent as CR LF is LF, so that a file that says the same is the same."""
    designs = apps.get_model("fleet", "MatDesign").objects.filter(steps__contains="\r")
    designs.update(steps=Replace(Replace("steps", Value("\r\n"), Value("\n")), Value("\r"), Value("\n")))


class Migration(migrations.Migration):
    dependencies = [("fleet", "0020_spares_are_in_the_ledger")]

    operations = [
        *(_connector(model, "feed", "connector at the feed end") for model in ("cabletype", "historicalcabletype")),
        *(_connector(model, "element", "connector at the element") for model in ("cabletype", "historicalcabletype")),
        migrations.RunPython(end_lines_alike, migrations.RunPython.noop),
    ]
