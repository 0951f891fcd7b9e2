"""Who may do what: three roles as groups of Django's own accounts."""

from django.contrib.auth.management import create_permissions

LOOK, LOG, KEEP = "visitor", "bench hand", "keeper"
ROLES = {
    LOOK: [],
    LOG: ["log_work"],
    KEEP: ["log_work", "keep_pool"],
}
MAY_LOG = "fleet.log_work"
MAY_KEEP = "fleet.keep_pool"


def make_roles(sender, using="default", **kwargs):
    """After each migrate: the three groups with their permissions, made once and topped up."""
    from django.contrib.auth.models import Group, Permission

    create_permissions(sender, verbosity=0, using=using)
    for name, codenames in ROLES.items():
        group, _ = Group.objects.using(using).get_or_create(name=name)
        group.permissions.add(
            *Permission.objects.using(using).filter(content_type__app_label="fleet", codename__in=codenames)
        )
