"""What the keeper says of costs: work, its price, and what an event with a cable over costs at least and at most."""

from django.core.exceptions import ValidationError

from ..policy.forms import PolicyForm
from ..validators import EVENT_COSTS, check_event_costs


class CostForm(PolicyForm):
    """Values of the pool; an empty one is not known."""

    def clean(self):
        super().clean()
        ends = [self.cleaned_data.get(f"pool.{name}") for name in EVENT_COSTS]
        try:
            check_event_costs(*ends)
        except ValidationError as error:
            self.add_error(f"pool.{EVENT_COSTS[0]}", error)

    @property
    def fields_with_units(self):
        return [(field, slot.unit) for slot, field in self.listed_fields]
