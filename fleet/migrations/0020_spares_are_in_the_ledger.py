"""Every cable that is on the shelf stands in the ledger as counted; where it lies nobody has said yet."""

from django.db import migrations
from django.db.models import Q
from django.utils import timezone

NOTE = "on the shelf when the ledger began"


def count_spares(apps, schema_editor):
    CableSegment, Fitting = apps.get_model("fleet", "CableSegment"), apps.get_model("fleet", "Fitting")
    StockEntry = apps.get_model("fleet", "StockEntry")
    database, on = schema_editor.connection.alias, timezone.localdate()
    fitted = Fitting.objects.using(database).filter(Q(removed_on=None) | Q(removed_on__gt=on), fitted_on__lte=on)
    in_use = CableSegment.objects.using(database).filter(Q(withdrawn_on=None) | Q(withdrawn_on__gt=on))
    spares = in_use.exclude(pk__in=fitted.values("segment")).order_by("pk").iterator()
    StockEntry.objects.using(database).bulk_create(
        [
            StockEntry(
                number=number,
                day=on,
                cable_type_id=spare.cable_type_id,
                length_m=round(spare.length_m, 3),
                change=1,
                left=1,
                segment=spare,
                lot=spare.lot,
                reason="counted",
                note=NOTE,
            )
            for number, spare in enumerate(spares, 1)
        ],
        batch_size=2_000,
    )


class Migration(migrations.Migration):
    dependencies = [("fleet", "0019_the_shelf_in_a_ledger")]

    operations = [migrations.RunPython(count_spares, migrations.RunPython.noop)]
