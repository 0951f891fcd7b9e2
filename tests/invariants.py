"""Everything that must hold in a pool, recounted from its rows: `python3 tests/invariants.py`.

Looks at the database that the environment names (`HALFPOWER_DATA`, `DATABASE_URL`) and changes nothing. Prints a
sentence for each thing that does not hold, and how many rows were looked at; exit code 1 where there is a sentence.
`broken(on)` gives the sentences to tests. What each row says by itself, its trail included, is in `invariant_rows.py`.
"""

import os
import sys
from collections import Counter, defaultdict
from datetime import timedelta
from itertools import pairwise
from pathlib import Path

TESTS = Path(__file__).resolve().parent
sys.path[:0] = [str(TESTS), str(TESTS.parent)]

LONGEST_EVENT_DAYS = 366


def main():
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "inspections.project.settings")
    import django

    django.setup()
    from django.utils import timezone
    from invariant_rows import all_models

    found = broken(timezone.localdate())
    for sentence in found:
        print(sentence)
    rows = sum(model._base_manager.count() for model in all_models())
    print(f"{rows:,} rows looked at, {len(found)} broken")
    sys.exit(bool(found))


def broken(on):
    """Sentences, one for each thing that does not hold on that day; an empty list is what is hoped for."""
    from invariant_assessments import assessments_are_fresh, new_bench_days_are_fresh
    from invariant_rows import broken_rows
    from invariant_shelf import ledger_counts_right, shelf_is_what_the_ledger_says

    derived = (*assessments_are_fresh(), *new_bench_days_are_fresh())
    checks = (*CHECKS, ledger_counts_right, shelf_is_what_the_ledger_says)
    return [*broken_rows(), *derived, *(sentence for check in checks for sentence in check(on))]


def one_thing_at_a_time(on):
    """A position holds one segment at a time, and a segment is in one position at a time."""
    from fleet.models import Fitting

    by_place, by_segment = defaultdict(list), defaultdict(list)
    for fitting in Fitting.objects.select_related("segment", "mat").order_by("fitted_on", "removed_on", "pk"):
        # fitted and taken out on one day: it was there on none
        if fitting.removed_on != fitting.fitted_on:
            by_place[fitting.mat_id, fitting.position].append(fitting)
            by_segment[fitting.segment_id].append(fitting)
    for what, groups in (("in one position", by_place), ("of one segment", by_segment)):
        for fittings in groups.values():
            for first, second in pairwise(fittings):
                if first.removed_on is None or second.fitted_on < first.removed_on:
                    yield f"two fittings {what} at a time: {first} and {second}"


def fitted_is_in_use(on):
    """What is withdrawn is in no mat from that day on."""
    from fleet.models import Fitting

    for fitting in Fitting.objects.exclude(segment__withdrawn_on=None).select_related("segment", "mat"):
        if fitting.removed_on is None or fitting.removed_on > fitting.segment.withdrawn_on:
            yield f"withdrawn on {fitting.segment.withdrawn_on} and fitted: {fitting}"


def fitted_before_the_mat_was_withdrawn(on):
    """Nothing was fitted into a mat after somebody withdrew it; a day that lies before is what people corrected."""
    from fleet.models import Fitting, Mat

    for mat in Mat.objects.exclude(withdrawn_on=None):
        entries = list(mat.history.order_by("history_id"))
        withdrawn = [new for old, new in pairwise(entries) if old.withdrawn_on is None and new.withdrawn_on is not None]
        if withdrawn:
            for fitting in Fitting.objects.filter(mat=mat, recorded_at__gt=withdrawn[-1].history_date):
                yield f"fitted into a mat that is withdrawn: {fitting}"


def positions_used_are_there(on):
    """The design of a mat has each position that holds a cable."""
    from fleet.models import DesignPosition, Fitting

    there = set(DesignPosition.objects.values_list("design", "number"))
    for fitting in Fitting.objects.filter(removed_on=None).select_related("segment", "mat"):
        if (fitting.mat.design_id, fitting.position) not in there:
            yield f"a position that the design lacks: {fitting}"


def deleted_positions_were_never_used(on):
    """A position is deleted only where no mat of the design had a cable or a fault there."""
    from fleet.models import DesignPosition, Fault, Fitting, Mat

    there = set(DesignPosition.objects.values_list("design", "number"))
    deleted = set(DesignPosition.history.filter(history_type="-").values_list("design_id", "number")) - there
    for design, number in deleted:
        # a mat that came from another design brings its past along
        always = [mat.pk for mat in Mat.objects.filter(design=design) if not mat.history.exclude(design=design)]
        for model in (Fitting, Fault):
            for row in model.objects.filter(mat__in=always, position=number):
                yield f"a position that was deleted: {row}"


def days_are_those_of_usage(on):
    """Each day of each mat at an event that it did not stay away from, recounted; none beside, none of usual use."""
    from fleet.models import MatDay, UsageEvent

    wanted = Counter()
    for usage in UsageEvent.objects.select_related("event"):
        if usage.state != "called off" and usage.basis != "usual":
            length = (usage.event.ends_on - usage.event.starts_on).days
            days = (usage.event.starts_on + timedelta(days=number) for number in range(length + 1))
            wanted.update((usage.mat_id, day, usage.pk, usage.state == "planned") for day in days)
    kept = Counter(MatDay.objects.values_list("mat", "day", "usage_event", "planned"))
    for name, more in (("missing", wanted - kept), ("too many", kept - wanted)):
        for mat, day, usage, planned in sorted(more):
            yield f"day {name}: mat {mat} on {day}, usage event {usage}, planned: {planned}"


def a_mat_is_planned_once_a_day(on):
    """One event a day is planned; what went on a day that was taken is marked, all but one."""
    from fleet.models import UsageEvent

    uses = defaultdict(list)
    for usage in UsageEvent.objects.exclude(state="called off").exclude(basis="usual").select_related("event", "mat"):
        for number in range((usage.event.ends_on - usage.event.starts_on).days + 1):
            uses[usage.mat, usage.event.starts_on + timedelta(days=number)].append(usage)
    for (mat, day), taken in uses.items():
        went = [usage for usage in taken if usage.state == "went"]
        if len(taken) - len(went) > 1:
            yield f"planned twice: {mat} on {day}"
        if len([usage for usage in went if not usage.shares_a_day]) > 1:
            yield f"at two events and not marked: {mat} on {day}"


def usual_use_is_one_a_month(on):
    """Usual use is never planned, and a mat has one a calendar month."""
    from fleet.models import UsageEvent

    months = Counter()
    for usage in UsageEvent.objects.filter(basis="usual").exclude(state="called off").select_related("event", "mat"):
        months[usage.mat.number, f"{usage.event.starts_on:%Y-%m}"] += 1
        if usage.state == "planned":
            yield f"usual use that is planned: {usage}"
    for (mat, month), number in months.items():
        if number > 1:
            yield f"{number} of usual use of {mat} in {month}"


def usage_fits_its_event(on):
    """Nothing went before it was over, nothing that is withdrawn by then goes, and no event is endless."""
    from fleet.models import Event, UsageEvent

    for usage in UsageEvent.objects.exclude(state="called off").select_related("event", "mat"):
        if usage.state == "went" and usage.event.ends_on > on:
            yield f"went before it is over: {usage}"
        if usage.mat.withdrawn_on and usage.mat.withdrawn_on <= usage.event.starts_on:
            yield f"withdrawn on {usage.mat.withdrawn_on}: {usage}"
        if usage.home_on and not usage.event.starts_on <= usage.home_on <= on:
            yield f"came home on {usage.home_on}: {usage}"
    for event in Event.objects.all():
        if (event.ends_on - event.starts_on).days >= LONGEST_EVENT_DAYS:
            yield f"longer than a year: {event}"


def what_happened_is_past(on):
    """What is said to have happened has a day that has come."""
    from fleet.models import Fault, Fitting, Mat
    from inspections.models import Measurement, WorkOrder

    days = ((Fitting, "fitted_on"), (Fitting, "removed_on"), (Fault, "reported_on"), (Fault, "ended_on"))
    days += ((Mat, "acquired_on"), (Measurement, "measured_on"), (Measurement, "voided_on"), (WorkOrder, "raised_on"))
    for model, field in days:
        for row in model.objects.filter(**{f"{field}__gt": on}):
            yield f"{field} is {getattr(row, field)}, after today: {row}"


def series_repeat_once(on):
    """A series has events, and of those that follow its rule no two begin on one day."""
    from fleet.models import Event, EventSeries

    for series in EventSeries.objects.filter(events=None):
        yield f"a series without events: {series}"
    rows = Event.objects.exclude(series=None).filter(changed_alone=False).values_list("series", "starts_on")
    for (series, day), number in Counter(rows).items():
        if number > 1:
            yield f"{number} events of series {series} begin on {day}"


def open_lines_lead_to_their_cable(on):
    """A segment on an open line is still where the order says, and the order is not withdrawn."""
    from fleet.models import Fitting
    from inspections.models import WorkOrder, WorkOrderLine

    rows = Fitting.objects.current(on).values_list("segment", "mat", "position")
    place = {segment: (mat, position) for segment, mat, position in rows}
    for line in WorkOrderLine.objects.filter(is_open=True).select_related("work_order", "segment"):
        if line.work_order.withdrawn_on is not None:
            yield f"an open line of an order that is withdrawn: {line}, {line.segment}"
        if place.get(line.segment_id) != (line.work_order.mat_id, line.position):
            yield f"an open line of a cable that is not there: {line}, {line.segment}"
    for order in WorkOrder.objects.filter(lines=None):
        yield f"a work order without lines: {order}"


def accounts_are_whole(on):
    """Names differ by more than capitals, each account has one role, and a keeper can sign in."""
    from django.contrib.auth.models import User

    people = list(User.objects.prefetch_related("groups"))
    for name, number in Counter(person.username.casefold() for person in people).items():
        if number > 1:
            yield f"{number} accounts of one name: {name}"
    roles = {person.username: sorted(group.name for group in person.groups.all()) for person in people}
    for name, groups in roles.items():
        if len(groups) != 1:
            yield f"account {name} has {len(groups)} roles"
    if people and not any("keeper" in roles[person.username] and person.is_active for person in people):
        yield "no keeper can sign in"


def accounts_tell_what_was_done(on):
    """Each account that is not older than the trail of accounts was made once, before anything else was done to it."""
    from django.contrib.auth.models import User
    from django.db.migrations.recorder import MigrationRecorder

    since = MigrationRecorder.Migration.objects.get(app="fleet", name="0012_accounts").applied
    for person in User.objects.filter(date_joined__gt=since).prefetch_related("changes"):
        acts = [change.act for change in reversed(person.changes.all())]
        if acts[:1] != ["made"] or "made" in acts[1:]:
            yield f"account {person} was made, and then: {', '.join(acts) or 'nothing'}"


def sessions_are_of_who_may_sign_in(on):
    """Nobody is signed in with an account that is deactivated, nor with another than that of their link."""
    from fleet.models import Session

    for session in Session.objects.select_related("account", "link"):
        if session.account and not session.account.is_active:
            yield f"signed in with an account that is deactivated: {session.account}"
        if session.link and session.link.account_id != session.account_id:
            yield f"signed in as {session.account} by a link of another account: {session.link}"
        if session.link and session.link.withdrawn_at:
            yield f"signed in by a link that was withdrawn: {session.link}"


def links_are_of_who_may_log(on):
    """Only an account that may log and no more has a link that is not withdrawn, active or not."""
    from fleet.access import LOG
    from fleet.models import LogLink
    from fleet.selectors.people import people

    roles = {person.pk: person.role for person in people()}
    for link in LogLink.objects.filter(withdrawn_at=None):
        if roles[link.account_id] != LOG:
            yield f"a link signs in as {link.account}, who is {roles[link.account_id]}: {link}"


def forms_acted_once(on):
    """Each form that was acted on has its answer, which is an address of ours."""
    from fleet.models import Submission

    for submission in Submission.objects.all():
        if not submission.answer_url.startswith("/") or submission.answer_url.startswith("//"):
            yield f"form {submission} was answered with “{submission.answer_url}”"


def loads_hold_what_they_say(on):
    """As many rows name a load as it says it stored; some were deleted since."""
    from fleet.choices import LoadSource
    from fleet.models import Load
    from inspections.files.sets import FILE_NAMES, LAYOUTS

    # the demo pool came from no files, as what Start here was told
    of_files = Load.objects.filter(source=LoadSource.FILES)
    loads = [load for load in of_files if set(load.files) <= set(FILE_NAMES)]
    for layout in LAYOUTS:
        load_of = f"{layout.head}__load" if layout.head else "load"
        there = Counter(layout.model.objects.values_list(load_of, flat=True))
        # a row with a head is deleted with it, and a head only with its load
        if not layout.head:
            there.update(layout.model.history.filter(history_type="-").values_list("load_id", flat=True))
        for load in loads:
            if layout.head and load.taken_back_at:
                continue
            said = load.files.get(layout.file, {}).get("stored", 0)
            if said != there[load.pk]:
                yield f"load {load.pk}: {layout.file} says {said} rows stored, {there[load.pk]} are there"


CHECKS = (
    one_thing_at_a_time,
    fitted_is_in_use,
    fitted_before_the_mat_was_withdrawn,
    positions_used_are_there,
    deleted_positions_were_never_used,
    days_are_those_of_usage,
    a_mat_is_planned_once_a_day,
    usual_use_is_one_a_month,
    usage_fits_its_event,
    what_happened_is_past,
    series_repeat_once,
    open_lines_lead_to_their_cable,
    accounts_are_whole,
    accounts_tell_what_was_done,
    sessions_are_of_who_may_sign_in,
    links_are_of_who_may_log,
    forms_acted_once,
    loads_hold_what_they_say,
)

if __name__ == "__main__":
    main()
