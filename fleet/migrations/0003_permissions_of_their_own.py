from django.db import migrations, models

CODENAMES = ("log_work", "keep_pool")


def hang_on(model):
    """A function that hangs the two permissions on that model; whoever has them keeps them."""

    def move(apps, schema_editor):
        db = schema_editor.connection.alias
        content_types = apps.get_model("contenttypes", "ContentType").objects.using(db)
        others = content_types.filter(app_label="fleet", model__in=("load", "access")).exclude(model=model)
        permissions = apps.get_model("auth", "Permission").objects.using(db)
        # none in a new database: they are made after its migrations
        for old in permissions.filter(content_type__in=others, codename__in=CODENAMES):
            content_type, _ = content_types.get_or_create(app_label="fleet", model=model)
            new, _ = permissions.get_or_create(
                content_type=content_type, codename=old.codename, defaults={"name": old.name}
            )
            new.group_set.add(*old.group_set.all())
            new.user_set.add(*old.user_set.all())
            old.delete()

    return move


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0002_capitals_make_no_other_code"),
        ("auth", "0006_require_contenttypes_0002"),
    ]

    operations = [
        migrations.AlterModelOptions(name="load", options={"ordering": ["-loaded_at", "-pk"]}),
        migrations.CreateModel(
            name="Access",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
            ],
            options={
                "managed": False,
                "default_permissions": (),
                "permissions": [
                    ("log_work", "May log and measure"),
                    ("keep_pool", "May change policy and the register"),
                ],
            },
        ),
        migrations.RunPython(hang_on("access"), hang_on("load")),
    ]
