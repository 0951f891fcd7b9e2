"""A table that is made again goes on counting behind what was deleted."""

import pytest
from django.apps import apps
from django.db import connection, transaction
from django.db.migrations.loader import MigrationLoader
from factories import fit, make_plain_mat, make_plain_segment

from fleet.models.row_numbers import keep_numbers

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.mark.skipif("connection.vendor != 'sqlite'", reason="PostgreSQL counts beside its tables")
@pytest.mark.parametrize("left", [0, 2])
def test_the_number_of_a_deleted_row_is_not_given_again_by_a_table_made_again(left, today):
    mat = make_plain_mat()
    rows = [fit(make_plain_segment(), mat, position, today) for position in range(1, left + 2)]
    used = rows[-1].pk
    with transaction.atomic():
        rows[-1].delete_with_trail(by=None, reason="never so")
    as_migrations_know_it = MigrationLoader(connection).project_state().apps.get_model("fleet.Fitting")
    with connection.constraint_checks_disabled(), connection.schema_editor() as editor:
        editor._remake_table(as_migrations_know_it)
    keep_numbers(apps.get_app_config("fleet"))
    assert fit(make_plain_segment(), mat, 4, today).pk > used
