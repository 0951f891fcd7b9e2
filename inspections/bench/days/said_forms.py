"""What is said of a bench day. Before the first word there is no row, and its version is 0."""

from fleet.forms.fields import DayField
from fleet.forms.record_forms import ReasonForm, VersionForm, reason_field
from fleet.limits import DAY_PASSED


class _OfBenchDay(VersionForm):
    @staticmethod
    def version_of(row):
        return row.version if row.pk else 0


class LookedForm(_OfBenchDay):
    looked_on = DayField(label="Looked at on", limit=DAY_PASSED)
    found = reason_field("What was found", autofocus=True)


class WhyForm(_OfBenchDay, ReasonForm):
    pass
