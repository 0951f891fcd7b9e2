"""Which version of the tables a pool has, and how an older one is brought up to date."""

from django.contrib.contenttypes.models import ContentType
from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.core.management.sql import emit_post_migrate_signal
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

from fleet.models import Session
from fleet.services.calendar_feeds import end_all_feeds
from fleet.services.link_ends import withdraw_all_links


def applied_migrations():
    """[app, name] of each migration that the pool's database has been through; none for an empty one."""
    return sorted(map(list, MigrationRecorder(connection).applied_migrations()))


def unknown_migrations(migrations):
    """Those of [app, name] that this version of the app does not know."""
    loader = MigrationLoader(None, ignore_no_migrations=True)
    known = set(loader.disk_migrations)
    for migration in loader.disk_migrations.values():
        known.update(migration.replaces)
    return [[app, name] for app, name in migrations if (app, name) not in known]


def is_of_this_version(migrations):
    """Whether a pool that has been through these [app, name] has the tables of this version."""
    return set(MigrationLoader(None, ignore_no_migrations=True).disk_migrations) <= set(map(tuple, migrations))


def bring_up_to_date():
    """Run the migrations that are missing, and let nobody in who was: a sign-in ended since must not come back, nor a
    link for phones that was withdrawn since, nor an address of the calendar that was made anew.

    ValidationError when a migration fails, whatever the reason.
    """
    ContentType.objects.clear_cache()
    try:
        _migrate()
    except Exception as failure:
        raise ValidationError(
            f"The back-up could not be brought up to date: {failure} Nothing was restored."
        ) from failure
    Session.objects.all().delete()
    withdraw_all_links()
    end_all_feeds()


def _migrate():
    executor = MigrationExecutor(connection)
    executor.loader.check_consistent_history(connection)
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        call_command("migrate", interactive=False, verbosity=0)
    else:
        # what it does at its end; all that goes before takes five times as long
        emit_post_migrate_signal(verbosity=0, interactive=False, db=connection.alias)
