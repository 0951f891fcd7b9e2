"""Work orders for all that is due, and several orders as one document."""

from django import forms

from fleet.forms.submissions import OnceForm
from fleet.models import Depot

from ..models import WorkOrder
from .forms import GivenFields


class DepotForm(forms.Form):
    """The depot in an address; none: all of them."""

    depot = forms.ModelChoiceField(
        Depot.objects.all(),
        required=False,
        to_field_name="name",
        error_messages={"invalid_choice": "There is no depot %(value)s."},
    )


class RaiseAllForm(GivenFields, DepotForm, OnceForm):
    # the mark of what the page said would be raised
    seen = forms.CharField(required=False)


class PrintForm(DepotForm):
    """Which orders are printed: those that are named, else those in force, of one depot or of all."""

    order = forms.ModelMultipleChoiceField(
        WorkOrder.objects.all(),
        required=False,
        to_field_name="number",
        error_messages={"invalid_choice": "There is no work order %(value)s."},
    )
