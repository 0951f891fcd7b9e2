"""A fitting made by moving a cable knows the one that it left: deleted, it puts the cable back."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0010_notes'),
    ]

    operations = [
        migrations.AddField(
            model_name='fitting',
            name='moved_from',
            field=models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='moved_to', to='fleet.fitting'),
        ),
        migrations.AddField(
            model_name='historicalfitting',
            name='moved_from',
            field=models.ForeignKey(blank=True, db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='fleet.fitting'),
        ),
    ]
