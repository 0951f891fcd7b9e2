"""Django's own, which makes the tables of an empty database at once in place of change by change."""

from django.core.management.commands import migrate
from django.db import DEFAULT_DB_ALIAS

from inspections.backup.from_nothing import holds_no_tables, make_new_tables

# with any of these, or to a state named, it is asked for something else than all tables of this version
OTHERWISE = ("app_label", "plan", "check_unapplied", "fake", "fake_initial", "prune")


class Command(migrate.Command):
    def handle(self, *args, **options):
        wanted = options["database"] == DEFAULT_DB_ALIAS and not any(options[name] for name in OTHERWISE)
        if wanted and holds_no_tables():
            make_new_tables()
        super().handle(*args, **options)
