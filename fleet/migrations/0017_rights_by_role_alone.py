"""Whoever had a permission by themselves, or by a group that is no role, gets the role that has it."""

from django.db import migrations

# the least of them that has what somebody had, from the greatest on
ROLES = (("keep_pool", "keeper"), ("bench_work", "bench hand"), ("log_events", "log"))
NAMES = ("visitor", *(role for _, role in ROLES))


def give_roles(apps, schema_editor):
    db = schema_editor.connection.alias
    groups = apps.get_model("auth", "Group").objects.using(db)
    permissions = apps.get_model("auth", "Permission").objects.using(db).filter(content_type__app_label="fleet")
    people = apps.get_model("auth", "User").objects.using(db)
    for codename, role in ROLES:
        has = permissions.filter(codename=codename)
        by_themselves = people.filter(user_permissions__in=has)
        by_other_groups = people.filter(groups__in=groups.filter(permissions__in=has).exclude(name__in=NAMES))
        greater = [name for _, name in ROLES[: [name for _, name in ROLES].index(role) + 1]]
        for person in (by_themselves | by_other_groups).distinct().exclude(groups__name__in=greater):
            person.groups.add(groups.get_or_create(name=role)[0])
    through = apps.get_model("auth", "User").user_permissions.through.objects.using(db)
    through.filter(permission__in=permissions).delete()


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0016_what_the_field_keeps"),
        ("auth", "0012_alter_user_first_name_max_length"),
    ]

    operations = [migrations.RunPython(give_roles, migrations.RunPython.noop)]
