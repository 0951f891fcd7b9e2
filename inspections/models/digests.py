"""Morning mails: which depot had one on which day, and what it said."""

from django.db import models
from django.utils import timezone

from fleet.models import Depot


class Digest(models.Model):
    """The morning mail of a depot and a day, written down before it is sent, so that no second one follows it.

    One that was begun and not sent may have gone or not: the computer or the line stopped in between. It stays, and
    the next day's says all that is new since the last one that was sent.
    """

    # a depot that is taken back with its files takes these along; no database constraint holds it up
    depot = models.ForeignKey(Depot, models.CASCADE, db_constraint=False, related_name="+")
    day = models.DateField()
    begun_at = models.DateTimeField(default=timezone.now)
    sent_at = models.DateTimeField(null=True)
    # {"due": [segment keys], "buy": [[length in m, cable type, number]]}
    said = models.JSONField(default=dict)

    class Meta:
        ordering = ["-day", "depot"]
        constraints = [models.UniqueConstraint(fields=["depot", "day"], name="one_digest_a_depot_and_day")]

    def __str__(self):
        return f"Morning mail of {self.depot}, {self.day}"
