from django.db import migrations

OLD = {"log_work": "May log and measure"}
NEW = {"log_events": "May log events and report faults", "bench_work": "May measure and change cables"}


def hand_on(old, new):
    """A function that gives whoever has one of the `old` permissions all the `new` ones, and deletes the old."""

    def move(apps, schema_editor):
        db = schema_editor.connection.alias
        permissions = apps.get_model("auth", "Permission").objects.using(db)
        # none in a new database: they are made after its migrations
        for given in permissions.filter(content_type__app_label="fleet", codename__in=old):
            for codename, name in new.items():
                permission, _ = permissions.get_or_create(
                    content_type=given.content_type, codename=codename, defaults={"name": name}
                )
                permission.group_set.add(*given.group_set.all())
                permission.user_set.add(*given.user_set.all())
            given.delete()

    return move


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0006_words_of_use_and_length"),
        ("auth", "0006_require_contenttypes_0002"),
    ]

    operations = [
        migrations.AlterModelOptions(
            name="access",
            options={
                "managed": False,
                "default_permissions": (),
                "permissions": [
                    ("log_events", "May log events and report faults"),
                    ("bench_work", "May measure and change cables"),
                    ("keep_pool", "May do all else: plan, correct, and keep the register, the policy and accounts"),
                ],
            },
        ),
        # back to where there was one permission for both: it goes to whoever measures
        migrations.RunPython(hand_on(OLD, NEW), hand_on(["bench_work"], OLD)),
    ]
