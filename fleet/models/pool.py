"""Which pool this database holds."""

import uuid

from django.db import connections, models
from django.db.models import Q


class Pool(models.Model):
    """The one row that tells this pool from every other, made when the database is; a back-up carries it along.

    What a phone keeps to be sent later names it, so that no other pool at the same address gets it.
    """

    THE_ONE = 1

    number = models.PositiveSmallIntegerField(primary_key=True, default=THE_ONE)
    uid = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(number=1), name="one_pool_a_database")]

    def __str__(self):
        return str(self.uid)


def name_the_pool(sender, using="default", **kwargs):
    """After each migrate: the pool has its row, once."""
    table = Pool._meta.db_table
    # a database may be taken back to an earlier version, which lacks it
    if table in connections[using].introspection.table_names():
        Pool.objects.using(using).get_or_create(number=Pool.THE_ONE)
