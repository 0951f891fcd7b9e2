"""The change form of a work order: each of its lines is done, left with a reason, or stays to do."""

from django.core.exceptions import ValidationError

from fleet.validators import REASON_LENGTH

from ..templatetags.reason_text import stored_why
from .change_forms import ChangeForm
from .change_row_forms import line_field


class SignOffForm(ChangeForm):
    """`lines`: {position: line} of the order that nobody has told yet."""

    def __init__(self, data=None, *, lines, **given):
        self.lines = lines
        super().__init__(data, **given)

    def _add_row(self, row):
        super()._add_row(row)
        n, line = row.number, self.lines.get(row.number)
        self.initial[f"change-{n}"] = line is not None
        if line:
            self.fields[f"left-{n}"] = line_field(f"Left, because, position {n}", REASON_LENGTH)
            self.initial.setdefault(f"why-{n}", stored_why(line.reasons)[:REASON_LENGTH])

    def clean(self):
        values = super().clean()
        for row in self.rows:
            if self.cleaned_data.get(f"left-{row.number}") and self._is_changed(row):
                self.add_error(f"left-{row.number}", "It is ticked as changed. Take out the tick, or empty this field.")
        return values

    def _refuse_nothing(self):
        if self.lines and not self.left:
            raise ValidationError("Tick what was changed, or say why a cable was left.", code="empty")

    @property
    def left(self):
        """{position: why it was left}"""
        reasons = {number: self.cleaned_data.get(f"left-{number}", "") for number in self.lines}
        return {number: reason for number, reason in reasons.items() if reason}

    @property
    def act_values(self):
        return super().act_values | {"left": self.left}

    def _form_row(self, row):
        made = super()._form_row(row)
        if row.number in self.lines:
            made.fields["left"] = self[f"left-{row.number}"]
        return made
