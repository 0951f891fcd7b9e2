"""What the roles may do; `fleet.access` says which role may do which."""

from django.db import models


class Access(models.Model):  # noqa: DJ008 no row of it is ever shown
    """Holds the permissions of the whole app; it has no rows and no table."""

    class Meta:
        managed = False
        default_permissions = ()
        permissions = [
            ("log_events", "May log events and report faults"),
            ("bench_work", "May measure and change cables"),
            ("keep_pool", "May do all else: plan, correct, and keep the register, the policy and accounts"),
        ]
