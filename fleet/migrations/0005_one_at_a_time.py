"""An account has its name alone, whatever its capitals; a position has one cable at a time, and a cable one position."""

from django.db import migrations

from ._account_names import add_index, number_names, remove_index
from ._one_at_a_time import add_constraints, end_overlaps, remove_constraints


class Migration(migrations.Migration):
    dependencies = [
        ("auth", "0012_alter_user_first_name_max_length"),
        ("fleet", "0004_plain_words"),
    ]

    operations = [
        migrations.RunPython(number_names, migrations.RunPython.noop),
        migrations.RunPython(add_index, remove_index),
        migrations.RunPython(end_overlaps, migrations.RunPython.noop),
        migrations.RunPython(add_constraints, remove_constraints),
    ]
