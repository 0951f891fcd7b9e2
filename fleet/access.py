"""Who may do what: four roles as groups of Django's own accounts. This is the one list.

A view is guarded by the permission of its act (`fleet.views.permissions`), and a page asks for the same one before it
offers the act (`perms.fleet.…`). `tests/pages/test_roles.py` walks over every act and every page as each role.
"""

from django.contrib.auth.management import create_permissions

LOOK, LOG, BENCH, KEEP = "visitor", "log", "bench hand", "keeper"
ROLES = {
    LOOK: [],
    LOG: ["log_events"],
    BENCH: ["log_events", "bench_work"],
    KEEP: ["log_events", "bench_work", "keep_pool"],
}
# what each may do beside what the roles before it may
ACTS = {
    LOOK: "look at everything except accounts",
    LOG: "log events that took place, say which mats went, report faults, say that a mat has dried, and write notes",
    BENCH: "measure, judge readings, add, fit, take out and change cables, raise work orders, and close faults",
    KEEP: "plan, correct and call off events, correct and withdraw records, and keep mats, designs, the policy, files "
    "and accounts",
}
MAY_LOG = "fleet.log_events"
MAY_BENCH = "fleet.bench_work"
MAY_KEEP = "fleet.keep_pool"
# under which a session keeps the key of the link that it was signed in by
LINK_OF_SESSION = "log_link"


def who_may(permission):
    """The roles that have a permission, as a sentence names them."""
    *others, last = [role for role, codenames in ROLES.items() if permission.removeprefix("fleet.") in codenames]
    return f"the roles {', '.join(others)} and {last}" if others else f"the role {last}"


def roles_within(user):
    """The roles whose acts this person may do, from the least on; the last is their own."""
    return [role for role, codenames in ROLES.items() if user.has_perms([f"fleet.{name}" for name in codenames])]


def signed_in_by_link(request):
    """Whether a link signed in: whoever that is knows no password, and is one of many who have the address."""
    return LINK_OF_SESSION in request.session


def make_roles(sender, using="default", **kwargs):
    """After each migrate: the groups, each with the permissions of its role and no other."""
    from django.contrib.auth.models import Group, Permission

    create_permissions(sender, verbosity=0, using=using)
    for name, codenames in ROLES.items():
        group, _ = Group.objects.using(using).get_or_create(name=name)
        group.permissions.set(
            Permission.objects.using(using).filter(content_type__app_label="fleet", codename__in=codenames)
        )


def name_of(user):
    """How an account is named on pages and in records; "" for none."""
    return (user.get_full_name() or user.get_username()) if user else ""
