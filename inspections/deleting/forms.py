"""Why something is deleted, and what the page said would follow."""

from django import forms

from fleet.forms.deleting import DeleteForm


class DeleteFittingForm(DeleteForm):
    """`may_keep`: may say that the cable never was either."""

    readings = forms.BooleanField(required=False, initial=True)
    cables = forms.BooleanField(required=False)

    def __init__(self, data=None, *, deletion, may_keep=True):
        super().__init__(data, deletion=deletion)
        self._offer("readings", deletion.readings, self._of_readings)
        self._offer("cables", deletion.cables if may_keep else (), self._of_cables)

    def _offer(self, name, rows, words):
        if rows:
            self.fields[name].label, self.fields[name].help_text = words(rows)
        else:
            del self.fields[name]

    def _of_readings(self, readings):
        if len(readings) == 1:
            what, it_is, it_was = "This reading never was either", "it is", "it was"
        else:
            what, it_is, it_was = "These readings never were either", "they are", "they were"
        return what, f"{_listed(readings)}. With the tick {it_is} void. Take the tick out if {it_was} really taken."

    def _of_cables(self, cables):
        (cable,) = cables
        # the app made its serial up for this fitting
        self.initial["cables"] = cable.serial_is_ours
        return f"Nor was there a cable {cable}", "With the tick it is deleted too. Without it, it is a spare."


class DeleteMatForm(DeleteForm):
    cables = forms.BooleanField(required=False, initial=True)

    def __init__(self, data=None, *, deletion):
        super().__init__(data, deletion=deletion)
        if not deletion.cables:
            del self.fields["cables"]
            return
        self.fields["cables"].label = f"Nor were its cables: {_listed(deletion.cables)}"
        self.fields["cables"].help_text = "With the tick they are deleted too. Without it, they are spares."


def _listed(rows):
    return ", ".join(map(str, rows))
