"""Sessions are kept in a table of our own: those in Django's let nobody in any more, and would never be cleared."""

from django.db import migrations


def end_earlier_sessions(apps, schema_editor):
    apps.get_model("sessions", "Session").objects.using(schema_editor.connection.alias).all().delete()


class Migration(migrations.Migration):
    dependencies = [("fleet", "0012_accounts"), ("sessions", "0001_initial")]

    operations = [migrations.RunPython(end_earlier_sessions, migrations.RunPython.noop)]
