"""Names of accounts are unique, in capitals or not. Of two that were the same, the later gets a number behind it."""

from itertools import count

from fleet.models.fields import code_key
from fleet.validators import CODE_LENGTH

INDEX = "fleet_account_name"


def number_names(apps, schema_editor):
    users = apps.get_model("auth", "User").objects
    taken = {}
    later = [user for user in users.order_by("pk") if taken.setdefault(code_key(user.username), user) is not user]
    for user in later:
        was, older = user.username, taken[code_key(user.username)].username
        user.username = next(name for name in _numbered(was) if code_key(name) not in taken)
        user.save(update_fields=["username"])
        taken[code_key(user.username)] = user
        told = {"was": was[:CODE_LENGTH], "now": user.username[:CODE_LENGTH], "same_as": older[:CODE_LENGTH]}
        apps.get_model("fleet", "RenamedCode").objects.create(model="auth.user", row_id=user.pk, **told)
        print(f"The accounts “{older}” and “{was}” were the same but for capitals. The second is “{user.username}” now.")


def add_index(apps, schema_editor):
    """SQLite knows the capitals of A to Z only; there writers queue, and `services.people` compares the others."""
    schema_editor.connection.check_constraints()
    schema_editor.execute(f"CREATE UNIQUE INDEX {INDEX} ON auth_user (LOWER(username))")


def remove_index(apps, schema_editor):
    schema_editor.execute(f"DROP INDEX {INDEX}")


def _numbered(name):
    # what stands in a name of Django's accounts: no blank and no bracket
    return (f"{name[: CODE_LENGTH - 4]}-{number}" for number in count(2))
