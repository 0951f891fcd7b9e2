"""The pool of `fuzz.py`: filled once, asked what it holds, and whether something in it changed. Needs Django set up."""

from datetime import timedelta

from django.conf import settings
from django.contrib.auth.models import Group, User
from django.db import transaction
from django.db.models import Count, Max, Sum
from django.test import Client
from factories import (
    make_cable_type,
    make_depot,
    make_design,
    make_event,
    make_fault,
    make_instrument,
    make_mat,
    make_note,
    make_person,
    make_reading,
    make_segment,
    make_series,
    make_usage_event,
    set_policy_value,
)
from invariant_rows import all_models

from fleet.models import Access, AccountChange, CableSegment, Event, Mat, MatDesign, Submission
from fleet.models.trail import Recorded
from fleet.services.mat_days import write_days
from inspections.assessment.services import assess_pool
from inspections.models import Assessment, AssessmentRun, PoolState, PoolTrend
from inspections.workshop.services import raise_work_orders

PEOPLE = {"keeper": "keeper", "hand": "bench hand", "logger": "log", "visitor": "visitor"}
PASSWORD = "muddy-hands-7"
# what any page may write: it assesses the pool when the day has changed
DERIVED = (Assessment, AssessmentRun, PoolState, PoolTrend, Access)
# what only a keeper may write, cables apart: whoever takes one out may throw it away
KEPT_BY_KEEPERS = {
    *("MatDesign", "DesignPosition", "CableType", "Depot", "Mat", "PolicyValue", "Instrument", "Load", "EventSeries"),
}
# what who logs may write, with its trail
LOGGED = {"Event", "UsageEvent", "MatDay", "Fault", "Note", "Submission"}
MATS, POSITIONS, WEEKS = 6, 4, 12


def fill(on):
    """A bit of everything, from which pages lead everywhere."""
    for name, role in (*PEOPLE.items(), ("other", "keeper"), ("guest", "visitor")):
        make_person(name, role=role, password=PASSWORD)
    cable_type, depots = make_cable_type("thin"), [make_depot("Quay"), make_depot("Mill <north>")]
    design = make_design("four", lengths_m=(0.6, 1.1, 1.6, 2.1), cable_type=cable_type)
    fitted = on - timedelta(days=900)
    mats = [
        make_mat(f"M-{number:03d}", design=design, depot=depots[number % 2], fitted=True, fitted_on=fitted)
        for number in range(1, MATS + 1)
    ]
    for number in range(12):
        make_segment(0.6, f"S-{number}", cable_type=cable_type)
    _usage(mats, on)
    instrument = make_instrument("bridge")
    for mat in mats[:4]:
        for fitting in mat.fittings.all():
            for days in (600, 300, 30):
                loss_db = 0.4 + fitting.position * 0.3 - days / 3_000
                make_reading(fitting.segment, loss_db, on - timedelta(days=days), instrument=instrument)
    make_fault(mats[0], reported_on=on - timedelta(days=5), what="loose")
    make_note(mats[0], noted_on=on - timedelta(days=4))
    make_fault(mats[1], place="cover or fold", position=None, reported_on=on - timedelta(days=2))
    set_policy_value("event_limit", 40, by=None, on=on)
    assess_pool(on)
    raise_work_orders([mats[0].fittings.first().segment_id], by=None, on=on)


def _usage(mats, on):
    usage = []
    for week in range(-WEEKS, 4):
        event = make_event(on + timedelta(weeks=week), days=1 + week % 2, code=f"E-{week + WEEKS}")
        going = mats[week % 3 :: 2]
        state = "went" if week < -2 else "planned"
        usage += [make_usage_event(mat, event, state=state) for mat in going]
    series = make_series(on + timedelta(days=40))
    for week in range(4):
        event = make_event(on + timedelta(days=40, weeks=week), code=f"R-{week}", series=series, name=series.name)
        usage.append(make_usage_event(mats[0], event, state="planned"))
    loan = make_event(on - timedelta(days=60), days=45, code="L-1", name="Loan")
    usage.append(make_usage_event(make_mat("M-900", design=mats[0].design), loan, state="planned", counts_for=3))
    write_days(usage)


def known(kind):
    """Codes of the pool, some; never none."""
    field, rows = {
        "mat": ("number", Mat.objects.filter(withdrawn_on=None)),
        "segment": ("serial", CableSegment.objects.filter(withdrawn_on=None)),
        "event": ("code", Event.objects.all()),
        "design": ("code", MatDesign.objects.filter(code="four")),
    }[kind]
    return [*rows.order_by("-pk").values_list(field, flat=True)[:30], "M-001", "M-002"]


def session_of(name):
    client = Client()
    client.force_login(User.objects.get(username=name))
    return client.cookies[settings.SESSION_COOKIE_NAME].value


def role_of(name):
    """The role that somebody has just now, which may not be that of their name."""
    groups = User.objects.filter(username=name).values_list("groups__name", flat=True)
    return groups[0] or "visitor" if groups else ""


@transaction.atomic
def mend_people():
    """Everybody in the role of their name again, whatever was done to them."""
    for name, role in (*PEOPLE.items(), ("other", "keeper")):
        person = User.objects.get(username=name)
        if not person.is_active:
            User.objects.filter(pk=person.pk).update(is_active=True)
        if [group.name for group in person.groups.all()] != [role]:
            person.groups.set([Group.objects.get(name=role)])


def watched():
    return [model for model in all_models() if model not in DERIVED]


def kept_from(role):
    """The models of which a role may write nothing; "": nobody signed in."""
    if role == "bench hand":
        return [model for model in watched() if model.__name__ in KEPT_BY_KEEPERS]
    if role == "log":
        return [model for model in watched() if model.__name__.removeprefix("Historical") not in LOGGED]
    return [] if role == "keeper" else watched()


def state_of(models):
    """{model: what changes with any row of it}: how many there are, the newest, and the sum of their versions."""
    found = {}
    for model in models:
        asked = {"rows": Count("pk")} | ({} if model is Submission else {"newest": Max("pk")})
        if issubclass(model, Recorded):
            asked["versions"] = Sum("version")
        found[model.__name__] = model._base_manager.aggregate(**asked)
    found["User"] = sorted(User.objects.values_list("username", "is_active", "password", "groups__name"))
    found["AccountChange"] = list(AccountChange.objects.order_by("pk").values_list("account__username", "act"))
    return found
