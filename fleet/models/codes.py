"""Rows that people name by a code. Capitals make no other code, whichever way a row is written."""

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Max
from django.db.models.functions import Cast, Substr

from ..figures import short_day
from .fields import CodeField, CodeKeyField, code_key
from .trail import Recorded

# no year has more of anything; a longer number came from files and is no running number
MOST_DIGITS = 9


class CodedQuerySet(models.QuerySet):
    """Writes the key wherever the code is written."""

    def update(self, **values):
        key = self.model.key_field()
        if key.code in values and key.name not in values:
            values[key.name] = code_key(values[key.code])
        return super().update(**values)

    def bulk_update(self, objs, fields, batch_size=None):
        objs, fields, key = tuple(objs), list(fields), self.model.key_field()
        if key.code in fields:
            fields.append(key.name)
            for row in objs:
                key.pre_save(row, add=False)
        return super().bulk_update(objs, fields, batch_size)

    def named(self, code):
        """The row of that code, in capitals or not; none or one."""
        return self.filter(**{self.model.key_field().name: code_key(code)})

    def highest_running(self, start):
        """The highest running number of codes that begin so (`W-2026-`); 0 before the first. Files may hold codes that
        are numbered otherwise."""
        key, start = self.model.key_field().name, code_key(start)
        running = Cast(Substr(key, len(start) + 1), models.BigIntegerField())
        numbered = self.filter(**{f"{key}__regex": rf"^{start}[0-9]{{1,{MOST_DIGITS}}}$"})
        return numbered.aggregate(highest=Max(running))["highest"] or 0


class Coded(Recorded):
    """A model with a unique CodeField and its CodeKeyField."""

    objects = CodedQuerySet.as_manager()

    class Meta:
        abstract = True
        base_manager_name = "objects"

    @classmethod
    def key_field(cls):
        return next(field for field in cls._meta.concrete_fields if isinstance(field, CodeKeyField))

    @property
    def code_text(self):
        """The code, whatever the model calls it."""
        return getattr(self, self.key_field().code)

    def save(self, *args, update_fields=None, **kwargs):
        key = self.key_field()
        if key.code in self.__dict__:
            # a row of which some fields were loaded is saved with these alone
            key.pre_save(self, add=False)
        if update_fields is not None and key.code in update_fields:
            update_fields = {*update_fields, key.name}
        return super().save(*args, update_fields=update_fields, **kwargs)

    def validate_unique(self, exclude=None):
        key, exclude = self.key_field(), set(exclude or ())
        if key.code not in exclude:
            self.refuse_taken_code()
        super().validate_unique(exclude | {key.code, key.name})

    def refuse_taken_code(self):
        """ValidationError at the code, naming the other row whose code is this one but for capitals."""
        code = self.key_field().code
        taken = type(self)._base_manager.named(self.code_text).exclude(pk=self.pk).first()
        if taken is None:
            return
        gone = getattr(taken, "withdrawn_on", None)
        withdrawn = f", withdrawn on {short_day(gone)}" if gone else ""
        raise ValidationError({code: f"There is {taken.code_text} already{withdrawn}. Write another one."})


class RenamedCode(models.Model):
    """A code that got a number behind it, since an older one is the same but for capitals; kept until it was seen."""

    # "fleet.mat", as Django names the model
    model = models.CharField(max_length=100)
    row_id = models.PositiveBigIntegerField()
    was = CodeField()
    now = CodeField()
    same_as = CodeField()

    class Meta:
        ordering = ["pk"]

    def __str__(self):
        return f"{self.was} → {self.now}"
