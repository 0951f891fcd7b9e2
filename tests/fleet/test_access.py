"""The permissions of the app: what each role has, and what became of permissions that it had before."""

import re
from importlib import import_module
from pathlib import Path

import pytest
from django.apps import apps
from django.contrib.auth.models import Group, Permission, User
from django.contrib.contenttypes.models import ContentType
from django.db import connection

from fleet.access import ACTS, MAY_BENCH, MAY_KEEP, MAY_LOG, ROLES, make_roles, who_may
from fleet.models import Access

pytestmark = pytest.mark.django_db
hang_on = import_module("fleet.migrations.0003_permissions_of_their_own").hang_on
roles_then = import_module("fleet.migrations.0007_roles_do_what_they_say")
by_role_alone = import_module("fleet.migrations.0017_rights_by_role_alone")
NOW = ["bench_work", "keep_pool", "log_events"]


def permissions():
    found = Permission.objects.filter(content_type__app_label="fleet", codename__in=[*NOW, "log_work"])
    return list(found.order_by("codename").values_list("content_type__model", "codename"))


def rights_of(person):
    person = User.objects.get(pk=person.pk)
    return [person.has_perm(permission) for permission in (MAY_LOG, MAY_BENCH, MAY_KEEP)]


def rights_of_group(name):
    return sorted(Group.objects.get(name=name).permissions.values_list("codename", flat=True))


def test_the_permissions_are_one_each():
    assert permissions() == [("access", codename) for codename in NOW]


def test_each_role_has_what_the_one_before_it_has_and_more(visitor, log_hand, bench_hand, keeper):
    people = (visitor, log_hand, bench_hand, keeper)
    assert [rights_of(person).count(True) for person in people] == [0, 1, 2, 3]
    assert [rights_of(person) for person in people] == [sorted(rights_of(person), reverse=True) for person in people]


def test_every_permission_is_of_a_role_and_every_role_says_what_it_may():
    assert sorted(codename for codename, _ in Access._meta.permissions) == sorted(ROLES["keeper"]) == NOW
    assert list(ACTS) == list(ROLES)


def test_pages_ask_for_permissions_that_there_are():
    """A permission that is mistyped, or is no more, hides its button from everybody without a word."""
    templates = Path(__file__).parents[2] / "templates"
    asked = {
        name for path in templates.rglob("*.html") for name in re.findall(r"perms\.fleet\.(\w+)", path.read_text())
    }
    assert sorted(asked) == NOW


def test_who_may_is_said_by_role():
    assert who_may(MAY_KEEP) == "the role keeper"
    assert who_may(MAY_LOG) == "the roles log, bench hand and keeper"


def test_a_role_loses_what_it_should_not_have_at_the_next_start():
    Group.objects.get(name="log").permissions.add(Permission.objects.get(codename="keep_pool"))
    Group.objects.get(name="bench hand").permissions.clear()
    make_roles(apps.get_app_config("fleet"))
    assert {name: rights_of_group(name) for name in ROLES} == {name: sorted(has) for name, has in ROLES.items()}


def as_it_was_before(editor):
    """One permission to log and to measure, and nobody had the other two."""
    roles_then.hand_on(["bench_work"], roles_then.OLD)(apps, editor)
    Permission.objects.filter(codename="log_events").delete()
    Group.objects.get(name="log").delete()
    assert permissions() == [("access", "keep_pool"), ("access", "log_work")]


def test_whoever_had_a_permission_keeps_it(keeper, bench_hand, visitor):
    editor, alone = connection.schema_editor(), User.objects.create_user("alone")
    as_it_was_before(editor)
    hang_on("load")(apps, editor)
    assert permissions() == [("load", "keep_pool"), ("load", "log_work")]
    alone.user_permissions.add(Permission.objects.get(codename="log_work"))
    # as after a start that came between
    on_access = ContentType.objects.get(app_label="fleet", model="access")
    for codename in ("keep_pool", "log_work"):
        Permission.objects.create(content_type=on_access, codename=codename, name=codename)
    hang_on("access")(apps, editor)
    assert permissions() == [("access", "keep_pool"), ("access", "log_work")]
    roles_then.hand_on(roles_then.OLD, roles_then.NEW)(apps, editor)
    make_roles(apps.get_app_config("fleet"))
    by_role_alone.give_roles(apps, editor)
    assert not alone.user_permissions.exists()
    assert permissions() == [("access", codename) for codename in NOW]
    assert [rights_of(person) for person in (keeper, bench_hand, visitor, alone)] == [
        [True, True, True],
        [True, True, False],
        [False, False, False],
        [True, True, False],
    ]
    assert rights_of_group("keeper") == NOW


def test_what_no_role_gives_counts_for_nothing(visitor):
    """A crafted back-up may bring either; the page of accounts shows the role."""
    may_keep = Permission.objects.get(codename="keep_pool")
    visitor.user_permissions.add(may_keep)
    helpers = Group.objects.create(name="helpers")
    helpers.permissions.add(may_keep)
    Group.objects.get(name="visitor").permissions.add(may_keep)
    visitor.groups.add(helpers)
    visitor = User.objects.get(pk=visitor.pk)
    assert rights_of(visitor) == [False, False, False]
    assert visitor.get_all_permissions() == set()
