"""What the database of a back-up is asked before it replaces a pool, on SQLite and PostgreSQL alike."""

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError

from fleet.selectors.people import no_keeper_can_sign_in

from .schema import applied_migrations, unknown_migrations

NOTHING = "Nothing was restored."


class WrittenMeanwhile(ValidationError):
    """The pool was written to after its copy was made: what was written would be lost."""

    def __init__(self):
        super().__init__(f"Others wrote to the pool all the while. Ask them to stop, then restore it again. {NOTHING}")


def refuse_unknown_version():
    """ValidationError when the database in use never held a pool, or holds one that a newer version wrote."""
    applied = applied_migrations()
    if not applied:
        raise ValidationError(f"The database in this back-up is empty. {NOTHING}")
    if unknown := unknown_migrations(applied):
        raise ValidationError(
            f"The database in this back-up is from a newer version of this app: it has {'.'.join(unknown[0])}, which "
            f"is not known here. Update the app, then restore it. {NOTHING}"
        )


def refuse_without_keeper():
    """ValidationError when the database in use has accounts, but none of a keeper who can sign in."""
    if User.objects.exists() and no_keeper_can_sign_in():
        raise ValidationError(f"In this back-up no keeper can sign in, so nobody could keep the pool. {NOTHING}")


def differences(found, expected):
    """Sentences on how the tables of a database differ from those of a freshly migrated one; none where they are alike.

    Both are {what it is, in words: its definition}, such as {"column fleet_mat.number": "varchar(40), never empty"}, of
    all that a database holds: tables, columns, keys, checks, indexes, triggers, views.
    """
    own = [f"It has the {what}, which this app does not make." for what in found if what not in expected]
    missing = [f"It lacks the {what}." for what in expected if what not in found]
    other = [
        f"Its {what} is “{found[what]}”; this app makes “{definition}”."
        for what, definition in expected.items()
        if what in found and found[what] != definition
    ]
    return [*own, *missing, *other]


def refuse_other_tables(found, expected):
    """ValidationError when the tables of a back-up, brought up to date, are not exactly those of this app."""
    if told := differences(found, expected):
        more = f"It differs in {len(told) - 1:,} more. " if len(told) > 1 else ""
        raise ValidationError(f"The database in this back-up is not as this app makes it. {told[0]} {more}{NOTHING}")
