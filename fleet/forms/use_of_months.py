"""How often a mat went: in all, month by month, and usually, a year."""

from django import forms

from ..limits import EVENTS_A_MONTH, EVENTS_A_YEAR
from ..selectors.use_of_months import mark_of_months, months_of_use
from ..services.use_of_months import field_of
from .fields import CountField
from .record_forms import MarkForm, VersionForm
from .submissions import OnceForm


class MonthsForm(OnceForm, MarkForm):
    """A number for each month, empty where nobody says; it begins with what is on record."""

    def __init__(self, sent, *, mat, on, last):
        self.mat, self.on, self.last = mat, on, last
        self.months = months_of_use(mat, on, last)
        super().__init__(sent, initial={field_of(month.first): month.in_all for month in self.months})
        for month in self.months:
            self.fields[field_of(month.first)] = CountField(
                label=f"In all in {month.first:%B %Y}",
                required=False,
                limit=EVENTS_A_MONTH,
                widget=forms.TextInput(attrs=CountField.widget.attrs | {"class": "figure-field"}),
            )

    def version_of(self, mat):
        return mark_of_months(mat, self.months)

    def renew_version(self, row):
        self.months = months_of_use(self.mat, self.on, self.last)
        super().renew_version(row)

    @property
    def rows(self):
        """Each month with its field."""
        return [(month, self[field_of(month.first)]) for month in self.months]

    @property
    def act_values(self):
        in_all = {month.first: self.cleaned_data[field_of(month.first)] for month in self.months}
        return {"in_all": in_all, "version": self.cleaned_data["version"]}


class UsualUseForm(VersionForm):
    times_a_year = CountField(
        label="Times a year that it usually goes out", limit=EVENTS_A_YEAR, help_text="An estimate will do."
    )
