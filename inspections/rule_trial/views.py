"""Rule against rule: what each costs in cables and leaves at risk, in this pool."""

from django.shortcuts import render
from django.utils import timezone

from ..assessment.policy_in_force import current_policy
from .forms import TrialForm
from .question_services import asked_of_policy, trial_of_day
from .services import played
from .tables import RuleTable
from .trial_chart import trial_chart


def trial(request):
    today = timezone.localdate()
    form = TrialForm(request.GET or None)
    form.is_valid()
    page = trial_of_day(today, today, form.asked(asked_of_policy(current_policy())))
    context = {"page": page, "form": form, "minutes": form.minutes}
    if page.question:
        found = played(page.question)
        context |= {
            "found": found,
            "table": RuleTable(page, found.answers, form.minutes),
            "chart": trial_chart(found.answers),
        }
    part = "_played.html" if request.htmx and page.question else "trial.html"
    return render(request, f"inspections/rule_trial/{part}", context)
