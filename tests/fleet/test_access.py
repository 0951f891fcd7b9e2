"""The permissions of the app, and what became of those that hung on loads of files."""

from importlib import import_module

import pytest
from django.apps import apps
from django.contrib.auth.models import Group, Permission, User
from django.db import connection

from fleet.access import MAY_KEEP, MAY_LOG, make_roles

pytestmark = pytest.mark.django_db
hang_on = import_module("fleet.migrations.0003_permissions_of_their_own").hang_on


def permissions():
    found = Permission.objects.filter(codename__in=["log_work", "keep_pool"]).order_by("codename")
    return list(found.values_list("content_type__app_label", "content_type__model", "codename"))


def rights_of(person):
    person = User.objects.get(pk=person.pk)
    return person.has_perm(MAY_LOG), person.has_perm(MAY_KEEP)


def test_the_permissions_are_one_each():
    assert permissions() == [("fleet", "access", "keep_pool"), ("fleet", "access", "log_work")]


def test_whoever_had_a_permission_keeps_it(keeper, bench_hand, visitor):
    alone = User.objects.create_user("alone")
    hang_on("load")(apps, connection.schema_editor())
    assert permissions() == [("fleet", "load", "keep_pool"), ("fleet", "load", "log_work")]
    alone.user_permissions.add(Permission.objects.get(codename="log_work"))
    # as after a start that came between
    make_roles(apps.get_app_config("fleet"))
    assert len(permissions()) == 4
    hang_on("access")(apps, connection.schema_editor())
    assert permissions() == [("fleet", "access", "keep_pool"), ("fleet", "access", "log_work")]
    assert [rights_of(person) for person in (keeper, bench_hand, visitor, alone)] == [
        (True, True),
        (True, False),
        (False, False),
        (True, False),
    ]
    assert sorted(Group.objects.get(name="keeper").permissions.values_list("codename", flat=True)) == [
        "keep_pool",
        "log_work",
    ]
