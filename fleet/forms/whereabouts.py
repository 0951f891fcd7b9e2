"""Mats come home from an event: all of them today, with one tap; or on another day, or not all."""

from ..limits import DAY_PASSED
from ..selectors.seen import mark_of
from .fields import DayField
from .record_forms import MarkForm
from .submissions import OnceForm


class HomeForm(OnceForm, MarkForm):
    """`but`: the numbers of those that are not home yet."""

    home_on = DayField(label="Came home on", limit=DAY_PASSED)

    def __init__(self, data, *, rows, on):
        super().__init__(data, initial={"home_on": on}, auto_id="home_%s")
        self.rows = rows
        self.but = data.getlist("but") if data else []

    def version_of(self, event):
        return mark_of(event, self.rows)

    @property
    def act_values(self):
        return {"home_on": self.cleaned_data["home_on"], "version": self.cleaned_data["version"], "but": self.but}
