"""Who may sign in again by a restore: an account, a role or a password of that day that was taken away since."""

from dataclasses import dataclass

from django.contrib.auth.models import User
from django.db import connection

LOOK = "Look at People, and deactivate whom you do not want to let in."


@dataclass(frozen=True)
class Way:
    """How somebody gets in: whether at all, by which password (its hash), in which roles."""

    is_active: bool
    password: str
    roles: frozenset


def ways_in():
    """{name: Way} of the accounts in the database in use; none where it has no tables yet."""
    if User._meta.db_table not in connection.introspection.table_names():
        return {}
    people = User.objects.prefetch_related("groups")
    return {
        person.username: Way(person.is_active, person.password, frozenset(group.name for group in person.groups.all()))
        for person in people
    }


def told_who_came_back(before, after):
    """Sentences about accounts that let somebody in otherwise than before; none where the pool had no account."""
    if not before:
        return []
    active = {name: way for name, way in after.items() if way.is_active}
    again = [name for name in active if name not in before or not before[name].is_active]
    others = {name: way for name, way in active.items() if name not in again}
    told = {
        "can sign in, who could not before the restore": again,
        "sign in with the password of that day": _differing(others, before, "password"),
        "are in the role of that day": _differing(others, before, "roles"),
    }
    said = [f"These accounts {what}: {', '.join(sorted(names))}." for what, names in told.items() if names]
    return [*said, LOOK] if said else []


def _differing(active, before, field):
    return [name for name, way in active.items() if getattr(way, field) != getattr(before[name], field)]
