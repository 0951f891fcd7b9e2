"""What an account may do follows from its role alone, which is what the page of accounts shows."""

from functools import reduce
from operator import or_

from django.contrib.auth.backends import ModelBackend
from django.contrib.auth.models import Permission
from django.db.models import Q

from .access import ROLES


class RoleAccess(ModelBackend):
    """A permission that an account has by itself, or by a group that is no role, counts for nothing: no page gives one,
    and one that came in another way, as out of a back-up, is seen on none.
    """

    def _get_user_permissions(self, user_obj):
        return Permission.objects.none()

    def _get_group_permissions(self, user_obj):
        of_roles = reduce(or_, (Q(group__name=role, codename__in=codenames) for role, codenames in ROLES.items()))
        return Permission.objects.filter(of_roles, group__user=user_obj, content_type__app_label="fleet")
