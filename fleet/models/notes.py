"""What people want to remember of a mat, a cable or an event."""

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Coalesce

from ..choices import NoteAbout
from ..limits import DAY_PASSED
from .codes import Coded, CodedQuerySet
from .fields import CodeField, CodeKeyField, LineField
from .mats import Mat
from .segments import CableSegment
from .usage import Event


def _only(about):
    """The condition: the note is about this, and about nothing else."""
    others = [word for word in NoteAbout if word != about]
    return Q(about=about, **{f"{about}__isnull": False}, **{f"{other}__isnull": True for other in others})


class NoteQuerySet(CodedQuerySet):
    def open(self):
        return self.filter(done_on=None)

    def with_subject(self):
        """What each is about, and who wrote it."""
        return self.select_related("mat", "segment", "event", "recorded_by")

    def with_code_of_subject(self):
        return self.annotate(code_of_subject=Coalesce("mat__number", "segment__serial", "event__code"))


class Note(Coded):
    """About one mat, one cable or one event; open until somebody says that it is done."""

    code = CodeField("note", unique=True)
    code_key = CodeKeyField("code")
    about = models.CharField(max_length=10, choices=NoteAbout.choices)
    mat = models.ForeignKey(Mat, models.PROTECT, null=True, blank=True, related_name="notes")
    segment = models.ForeignKey(CableSegment, models.PROTECT, null=True, blank=True, related_name="notes")
    event = models.ForeignKey(Event, models.PROTECT, null=True, blank=True, related_name="notes")
    noted_on = models.DateField()
    text = LineField("note", max_length=500)
    written_by = LineField(max_length=100, blank=True)
    done_on = models.DateField(null=True, blank=True)

    limits = {"noted_on": DAY_PASSED, "done_on": DAY_PASSED}
    objects = NoteQuerySet.as_manager()

    class Meta:
        ordering = ["-noted_on", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=_only(NoteAbout.MAT) | _only(NoteAbout.SEGMENT) | _only(NoteAbout.EVENT),
                name="a_note_is_about_one_thing",
            ),
            models.CheckConstraint(condition=~Q(text=""), name="a_note_says_something"),
            models.CheckConstraint(
                condition=Q(done_on__isnull=True) | Q(done_on__gte=F("noted_on")), name="a_note_is_done_after_it_began"
            ),
        ]

    def __str__(self):
        return self.code

    @property
    def subject(self):
        return getattr(self, self.about)

    def get_absolute_url(self):
        """Its place on the page of what it is about."""
        return f"{self.subject.get_absolute_url()}#notes"
