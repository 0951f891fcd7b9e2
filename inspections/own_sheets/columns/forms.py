"""The form of the page on which a keeper says what the columns of their sheets mean."""

from dataclasses import replace

from django import forms

from fleet.parsing.day_orders import DayOrder

from .proposals import with_orders
from .questions import day_that_can_be_both
from .sheet_forms import SheetForm, meaning_shown

_ORDERS = [(DayOrder.DAY_FIRST.value, "the day stands first"), (DayOrder.MONTH_FIRST.value, "the month stands first")]


class ColumnsForm(forms.Form):
    """All sheets of a workbook. `meanings` is what is shown before anything is sent."""

    day_order = forms.ChoiceField(required=False, choices=_ORDERS, widget=forms.RadioSelect)

    def __init__(self, data=None, *, workbook, meanings, known):
        self.workbook = workbook
        shown = [self._shown(data, number, meaning) for number, meaning in enumerate(meanings)]
        super().__init__(data, initial={"day_order": next((each.day_order for each in meanings), "")})
        self.sheets = [
            SheetForm(data, sheet=sheet, meaning=meaning, known=known, prefix=f"sheet{number}")
            for number, (sheet, meaning) in enumerate(zip(workbook.sheets, shown, strict=True))
        ]
        self.in_doubt = day_that_can_be_both(workbook, [sheet.said_so_far for sheet in self.sheets])
        if self.in_doubt:
            self.fields["day_order"].required = True
            self.fields["day_order"].label = f"What stands first in “{self.in_doubt}”?"
            self.fields["day_order"].error_messages["required"] = f"“{self.in_doubt}” can be two days. Say which."

    def _shown(self, data, number, meaning):
        sheet = self.workbook.sheets[number]
        return (data is not None and meaning_shown(data, f"sheet{number}", sheet)) or meaning

    def is_valid(self):
        """Valid with all its sheets, none of which was turned into another kind or asks about more."""
        # what is missing of a sheet that was turned is not known before its columns are shown
        if not all([super().is_valid(), *(sheet.is_valid() for sheet in self.sheets)]) or self.is_turned:
            return False
        for sheet in self.sheets:
            sheet.check()
        return not self.errors and not any(sheet.errors for sheet in self.sheets)

    @property
    def is_turned(self):
        """Whether some sheet shows other columns now, or asks about more, so that the page comes again."""
        return bool(self.turned_sheets)

    @property
    def turned_sheets(self):
        """Which sheets these are, counted from 1."""
        return [number for number, sheet in enumerate(self.sheets, 1) if sheet.is_turned or sheet.asks_more]

    @property
    def is_wrong(self):
        """Whether some part of the page needs a second look."""
        return bool(self.errors) or any(sheet.is_wrong for sheet in self.sheets)

    def said(self):
        """The SheetMeanings that were said."""
        order = DayOrder(self.cleaned_data.get("day_order") or "")
        said = [replace(sheet.said(), day_order=order) for sheet in self.sheets]
        return with_orders(self.workbook, said)

    def turned(self):
        """What the page shows next: sheets that were turned anew, the others as they were said."""
        order = DayOrder(self.cleaned_data.get("day_order") or "")
        said = [sheet.turned() if sheet.is_turned else sheet.said() for sheet in self.sheets]
        return with_orders(self.workbook, [replace(meaning, day_order=order) for meaning in said])
