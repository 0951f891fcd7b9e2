"""What the calendar is asked for, and on which days somebody works."""

from datetime import timedelta

from django import forms

from fleet.forms.fields import DayField
from fleet.months import monday_of

from ..choices import SETTINGS
from ..policy.forms import PolicyForm

ONE_WEEK = timedelta(days=7)
FARTHEST = timedelta(days=SETTINGS["look_ahead_days"].highest)


class DepotFilter(forms.Form):
    """Which depot; a field that cannot be read narrows nothing."""

    depot = forms.ModelChoiceField(None, required=False, to_field_name="name", empty_label="all depots")

    def __init__(self, data, *, on, depots):
        super().__init__(data)
        self.on = on
        self.fields["depot"].queryset = depots
        if len(depots) < 2 and not self.data.get("depot"):
            del self.fields["depot"]
        self.is_valid()

    @property
    def of_depot(self):
        return self.cleaned_data.get("depot")

    @property
    def in_short(self):
        return [self.of_depot] if self.of_depot else []


class WeekFilter(DepotFilter):
    """And which week, by any of its days; none: this one."""

    week = DayField(required=False)

    @property
    def monday(self):
        week = self.cleaned_data.get("week") or self.on
        # no plan reaches further, and the calendar of days ends
        return monday_of(min(week, self.on + FARTHEST))

    @property
    def week_before(self):
        """Its Monday; None before this week, of which nothing is planned any more."""
        return self.monday - ONE_WEEK if self.monday > self.on else None

    @property
    def week_after(self):
        return self.monday + ONE_WEEK


class WorkDaysForm(PolicyForm):
    """How many cables on each weekday, of the pool and of each depot; empty: as the pool."""

    def __init__(self, data=None, *, page):
        super().__init__(data, page=page)
        for key, slot in self.slots.items():
            self.fields[key].widget.attrs["placeholder"] = f"{slot.in_force:g}"

    @property
    def rows(self):
        """(owner, [(slot, field)]): the pool, then each depot."""
        return [("All depots", self.listed_fields), *self.depot_rows]
