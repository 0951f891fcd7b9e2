"""Who wrote a row, when, from which load, and what it said before it was corrected."""

from contextlib import contextmanager

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import connection, models
from django.utils import timezone
from simple_history.models import HistoricalRecords

from ..choices import LoadSource
from ..figures import short_time
from ..validators import check_line
from .fields import CodeKeyField


class Load(models.Model):
    """What was checked whole and stored at once: files, or a run of *Start here*. It can be taken back whole."""

    loaded_at = models.DateTimeField(default=timezone.now)
    loaded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True)
    # of files, per file: {"sha256": …, "rows": …, "stored": …, "already_there": …}, with "corrected" where it was, and
    # "from": the name of the keeper's own file that it was made of
    files = models.JSONField(default=dict, blank=True)
    source = models.CharField(max_length=12, choices=LoadSource.choices, default=LoadSource.FILES)
    taken_back_at = models.DateTimeField(null=True, blank=True, editable=False)
    taken_back_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, editable=False, related_name="+"
    )

    class Meta:
        ordering = ["-loaded_at", "-pk"]

    def __str__(self):
        what = "Load" if self.source == LoadSource.FILES else "Start here"
        return f"{what} of {short_time(timezone.localtime(self.loaded_at))}"

    @property
    def sources(self):
        """Names of the keeper's own files that were dropped, each once."""
        return list(dict.fromkeys(count["from"] for count in self.files.values() if count.get("from")))


class LoadCorrection(models.Model):
    """A row that was there before a load, and that the load corrected: its trail has what it said until then.

    `kind` is the label of its model, `row` its key, `version` the one that the correction gave it.
    """

    load = models.ForeignKey(Load, models.PROTECT, related_name="corrections")
    kind = models.CharField(max_length=60)
    row = models.PositiveBigIntegerField()
    version = models.PositiveIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["load", "kind", "row"], name="a_load_corrects_a_row_once"),
        ]

    def __str__(self):
        return f"{self.kind} {self.row}, version {self.version}"


class Submission(models.Model):
    """A form that was acted on. The token is unique, so the same form sent twice is acted on once."""

    token = models.UUIDField(primary_key=True)
    made_at = models.DateTimeField(default=timezone.now)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True)
    answer_url = models.CharField(max_length=500, blank=True)

    def __str__(self):
        return str(self.token)


class Trail(HistoricalRecords):
    """What rows said before, without the keys of their codes: those follow from the codes."""

    def fields_included(self, model):
        return [field for field in super().fields_included(model) if not isinstance(field, CodeKeyField)]


class Recorded(models.Model):
    """A row that knows who wrote it, and whose history begins with its first change."""

    recorded_at = models.DateTimeField(default=timezone.now, editable=False)
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, editable=False, related_name="+"
    )
    load = models.ForeignKey(Load, models.PROTECT, null=True, blank=True, editable=False, related_name="+")
    version = models.PositiveIntegerField(default=1, editable=False)
    history = Trail(inherit=True)
    _stands = frozenset()

    # what its numbers and days may be: {field: Limit or DayLimit}
    limits = {}

    class Meta:
        abstract = True

    @property
    def at_start(self):
        """Its name at the beginning of a sentence: *Mat 6* of a mat that sentences name *mat 6*."""
        return at_start(str(self))

    def save(self, *args, **kwargs):
        """A new row needs no history: the row itself says all that is known."""
        if self._state.adding:
            self.skip_history_when_saving = True
            try:
                return super().save(*args, **kwargs)
            finally:
                del self.skip_history_when_saving
        return super().save(*args, **kwargs)

    def correct(self, *, by, reason="", seen_version=None, **values):
        """Store changed values and leave the old ones in the trail, inside a transaction of the caller.

        Nothing happens when nothing differs. `seen_version` is the version that the person looked at:
        when somebody else changed the row since, nothing is stored and a ValidationError says so.
        """
        assert connection.in_atomic_block, "the row and its trail are kept together"
        reason = change_reason(reason)
        changed = {name: value for name, value in values.items() if getattr(self, name) != value}
        seen = self.version if seen_version is None else seen_version
        if changed:
            self._keep_first_state()
        self._claim(seen, seen + bool(changed))
        if not changed:
            return self
        for name, value in changed.items():
            setattr(self, name, value)
        self.version = seen + 1
        self._clean(changed)
        self._history_user, self._change_reason = by, reason
        self.save()
        return self

    def _clean(self, changed):
        """What stands is not judged again when something else is corrected: rules were fewer when it was entered."""
        self._stands = {field.name for field in self._meta.fields} - changed.keys()
        try:
            self.full_clean()
        finally:
            del self._stands

    def clean_fields(self, exclude=None):
        """Absurd values are refused too, each where the field has no other fault."""
        exclude, errors = {*(exclude or ()), *self._stands}, {}
        try:
            super().clean_fields(exclude)
        except ValidationError as error:
            errors = error.update_error_dict(errors)
        for name, limit in self.limits.items():
            if name not in exclude and name not in errors and getattr(self, name) is not None:
                with added_to(errors, name):
                    limit.check(getattr(self, name))
        if errors:
            raise ValidationError(errors)

    def delete_with_trail(self, *, by, reason, seen_version=None):
        """Delete a row that was entered by mistake; the trail keeps what it said. Else as `correct`."""
        assert connection.in_atomic_block, "the row and its trail are kept together"
        seen = self.version if seen_version is None else seen_version
        self._claim(seen, seen)
        self._keep_first_state()
        self._history_user, self._change_reason = by, change_reason(reason)
        self.delete()

    def check_version(self, seen):
        """ValidationError when the person looked at another version of the row than this; None: nobody looked."""
        if seen not in (None, self.version):
            raise _stale()

    def _claim(self, seen, version):
        """Hold the row at the version that was seen and give it this one; ValidationError when it has another."""
        self.check_version(seen)
        if not type(self)._base_manager.filter(pk=self.pk, version=seen).update(version=version):
            raise _stale()

    def _keep_first_state(self):
        if not self.history.exists():
            stored = type(self)._base_manager.get(pk=self.pk)
            self.history.model.objects.create(
                history_date=stored.recorded_at,
                history_type="+",
                history_user=stored.recorded_by,
                **{field.attname: getattr(stored, field.attname) for field in self.history.model.tracked_fields},
            )


def at_start(name):
    """A name of `mat_name`, or what begins with one, at the beginning of a sentence."""
    return f"Mat {name.removeprefix('mat ')}" if name.startswith("mat ") else name


def change_reason(reason):
    """Why a row was changed, as the trail keeps it."""
    try:
        check_line(reason or "")
    except ValidationError as error:
        raise ValidationError({"reason": error}) from error
    return reason or None


@contextmanager
def added_to(errors, name):
    """A refusal inside goes to the errors of that field."""
    try:
        yield
    except ValidationError as error:
        errors[name] = error.error_list


def _stale():
    return ValidationError("Somebody else changed this meanwhile. Look at it again before you save.", code="stale")
