"""What the roles may do; `fleet.access` says which role may do which."""

from django.db import models


class Access(models.Model):  # noqa: DJ008 no row of it is ever shown
    """Holds the permissions of the whole app; it has no rows and no table."""

    class Meta:
        managed = False
        default_permissions = ()
        permissions = [("log_work", "May log and measure"), ("keep_pool", "May change policy and the register")]
