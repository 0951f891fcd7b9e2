"""Eight people at one thing, for `stress.py`: each has the form before him, and all send it at the same moment.

A collision makes its rows and gives (address, values) for each of the writers in turn, repeated until all have one.
"""

import unicodedata
from collections import Counter
from datetime import timedelta
from itertools import cycle
from threading import Barrier, Thread
from types import SimpleNamespace
from urllib.parse import quote

from factories import fit, make_event, make_plain_design, make_plain_mat, make_plain_segment
from invariants import broken
from page_forms import form_in
from stress_pool import PASSWORD

from fleet.models import CableSegment, Event
from fleet.services.series import repeat_event
from fleet.services.settling import UsageValues
from fleet.services.usage import log_event
from inspections.assessment.services import reassess
from inspections.workshop.services import raise_work_orders

DAY = timedelta(days=1)
WEEK = timedelta(weeks=1)
# no sentence for people has these
WORDS_OF_DATABASES = ("deadlock", "duplicate key", "unique constraint", "violates", "serializ", "database is locked")
OUT = {"reason": "worn", "goes": "thrown away"}


def round_of_collisions(writers, number, on):
    """What each collision came to: {name: Counter of statuses}, and what is wrong after it, as sentences."""
    came_to, wrong = {}, []
    for collision in COLLISIONS:
        forms = collision(f"{number}{collision.__name__[:3]}{len(came_to)}", on)
        fitted = CableSegment.objects.fitted_on(on).filter(assessment=None)
        reassess(fitted.values_list("pk", flat=True), on=on)
        answers = all_at_once(writers, forms)
        came_to[collision.__name__] = Counter(status for status, _ in answers)
        wrong += [f"{collision.__name__}: {sentence}" for sentence in told_wrongly(answers)]
    return came_to, [*wrong, *broken(on), *events_twice()]


def all_at_once(writers, forms):
    answers, gate = [], Barrier(len(writers))

    def send(writer, place, values):
        form = form_in(SimpleNamespace(content=writer.browser.get(place)[2].encode()))
        gate.wait(60)
        status, _, page = writer.browser.send(place, form | values)
        answers.append((status, page))

    threads = [Thread(target=send, args=(writer, *form)) for writer, form in zip(writers, cycle(forms), strict=False)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return answers


def told_wrongly(answers):
    for status, page in answers:
        said = [word for word in WORDS_OF_DATABASES if word in page.lower()]
        if status >= 500 or said:
            yield f"answered {status}, with {said}"
    if not any(status == 302 for status, _ in answers):
        yield f"nobody was let through: {[status for status, _ in answers]}"


def events_twice():
    events = Counter(Event.objects.values_list("name", "place", "starts_on"))
    for event, number in events.items():
        if number > 1:
            yield f"{number} events {event}"


def a_mat_in_four_spellings(name, on):
    design = make_plain_design()
    numbers = [f"Ü-{name}", f"ü-{name}", f"Ü-{name}".upper(), unicodedata.normalize("NFD", f"ü-{name}")]
    return [("/mats/add/", {"number": number, "design": design.code, "cables": "new"}) for number in numbers]


def one_event(name, on):
    return [("/events/add/", {"name": f"Run {name}", "starts_on": on, "ends_on": ""})]


def one_event_with_its_mats(name, on):
    mats = f"{make_plain_mat()} {make_plain_mat()}"
    values = {"event": "new", "name": f"Run {name}", "starts_on": on, "act": "log", "paste": mats}
    return [("/events/log/", values), ("/events/log/", values | {"name": f"RUN {name}"})]


def one_account(name, on):
    account = {"role": "visitor", "password": PASSWORD, "again": PASSWORD}
    return [("/people/add/", account | {"name": f"ida{name}"}), ("/people/add/", account | {"name": f"IDA{name}"})]


def a_swap_of_two_cables(name, on):
    mats = [make_plain_mat(fitted=True), make_plain_mat(fitted=True)]
    serials = [mat.fittings.get(position=1).segment.serial for mat in mats]
    swap = OUT | {"goes": "back to the shelf", "fitted_on": on, "basis": "known", "move": "on"}
    return [fit_form(mat, 1, serial, on, **swap) for mat, serial in zip(mats, serials[::-1], strict=True)]


def fit_form(mat, position, serial, on, **values):
    values = {"segment": serial, "fitted_on": on, "basis": "known", **values}
    return f"/mats/{mat}/positions/{position}/fit/", values


def one_cable_for_many_positions(name, on):
    segment, mats = make_plain_segment(), [make_plain_mat(), make_plain_mat()]
    return [fit_form(mat, position, segment.serial, on) for mat in mats for position in range(1, 5)]


def many_cables_for_one_position(name, on):
    mat = make_plain_mat()
    return [fit_form(mat, 1, make_plain_segment().serial, on - number * DAY) for number in range(8)]


def eight_acts_on_one_mat(name, on):
    mat, event = make_plain_mat(fitted=True), make_event(on + WEEK)
    held = {fitting.position: fitting.segment for fitting in mat.fittings.select_related("segment")}
    return [
        fit_form(mat, 1, make_plain_segment().serial, on, **OUT),
        (f"/mats/{mat}/positions/2/take-out/", OUT | {"removed_on": on}),
        (f"/mats/{mat}/faults/report/", {"place": "cable", "position": 3, "reported_on": on}),
        ("/events/log/", {"event": event.code, "act": "log", "paste": mat.number}),
        (f"/mats/{mat}/correct/", {"number": mat.number, "owner": name}),
        (f"/mats/{mat}/withdraw/", {"withdrawn_on": on, "reason": "sold"}),
        (f"/bench/{mat}/", {"measured_on": on, "reason": "routine", f"found-{held[4].pk}": "1.20"}),
        ("/work-orders/raise/?" + f"mat={mat}", {"segments": [segment.serial for segment in held.values()]}),
    ]


def a_cable_taken_out_by_all(name, on):
    return [(f"/mats/{make_plain_mat(fitted=True)}/positions/1/take-out/", OUT | {"removed_on": on})]


def orders_while_cables_go_out(name, on):
    mat = make_plain_mat(fitted=True)
    serials = list(mat.fittings.values_list("segment__serial", flat=True))
    order = ("/work-orders/raise/?" + f"mat={mat}", {"segments": serials})
    outs = [(f"/mats/{mat}/positions/{position}/take-out/", OUT | {"removed_on": on}) for position in range(1, 5)]
    return [form for out in outs for form in (order, out)]


def an_order_signed_off_by_all(name, on):
    return [signed_off(order_for(make_plain_mat(fitted=True), on), on)]


def an_order_signed_off_while_all_else_is_done_to_it(name, on):
    mat = make_plain_mat(fitted=True)
    order = order_for(mat, on)
    done = signed_off(order, on)
    changed = {"change-2": "on", "new-2": make_plain_segment().serial, "why-2": "worn"}
    return [
        done,
        (f"/mats/{mat}/change/", changed | {"changed_on": on, "goes": "thrown away"}),
        done,
        (f"/work-orders/{order}/withdraw/", {"reason": name}),
        done,
        (f"/mats/{mat}/positions/1/take-out/", OUT | {"removed_on": on}),
        (f"/work-orders/{order}/done/", {"changed_on": on, "left-3": "no spare"}),
        (f"/work-orders/{order}/give/", {"given_to": name}),
    ]


def order_for(mat, on):
    (order,) = raise_work_orders(mat.fittings.values_list("segment", flat=True), by=None, on=on)
    return order


def signed_off(order, on):
    """The form of the order, each cable changed for a spare; every writer takes the same ones."""
    values = {"changed_on": on, "goes": "thrown away", "all-why": "worn"}
    for line in order.lines.all():
        values |= {f"change-{line.position}": "on", f"new-{line.position}": make_plain_segment().serial}
        values[f"loss-{line.position}"] = "0.7"
    return f"/work-orders/{order}/done/", values


def planned_while_withdrawn(name, on):
    mat, event = make_plain_mat(), make_event(on + WEEK)
    return [
        ("/events/log/", {"event": event.code, "act": "log", "paste": mat.number}),
        (f"/mats/{mat}/withdraw/", {"withdrawn_on": on, "reason": "sold"}),
    ]


def fitted_while_withdrawn(name, on):
    segment = make_plain_segment()
    return [
        fit_form(make_plain_mat(), 1, segment.serial, on),
        (f"/cables/{segment}/withdraw/", {"withdrawn_on": on, "reason": "lost"}),
    ]


def corrected_into_each_other(name, on):
    mat = make_plain_mat()
    earlier = fit(make_plain_segment(), mat, 1, on - 90 * DAY, removed_on=on - 60 * DAY, removal_reason="worn")
    later = fit(make_plain_segment(), mat, 1, on - 20 * DAY)
    return [
        (f"/cables/{earlier.segment}/fittings/{earlier.pk}/correct/", {"removed_on": on - 30 * DAY}),
        (f"/cables/{later.segment}/fittings/{later.pk}/correct/", {"fitted_on": on - 50 * DAY}),
    ]


def a_position_deleted_while_used(name, on):
    mat = make_plain_mat()
    return [
        (f"/designs/{quote(mat.design.code)}/positions/4/delete/", {"reason": "typed twice"}),
        (f"/mats/{mat}/faults/report/", {"place": "cover or fold", "position": 4, "reported_on": on}),
        fit_form(make_plain_mat(design=mat.design), 4, make_plain_segment().serial, on),
    ]


def another_design_while_fitted(name, on):
    mat, small = make_plain_mat(), make_plain_design(positions=1)
    return [(f"/mats/{mat}/correct/", {"design": small.code}), fit_form(mat, 4, make_plain_segment().serial, on)]


def an_event_answered_by_all(name, on):
    event = planned(make_event(on - DAY), make_plain_mat(), make_plain_mat(), on=on)
    return [(f"/events/{event.code}/answer/", {"state": state}) for state in ("went", "called off")]


def planned(event, *mats, on):
    log_event(event, dict.fromkeys(mats, UsageValues("planned")), by=None, on=on)
    return event


def new_events_repeated_with_the_same_mats(name, on):
    one, other = make_plain_mat(), make_plain_mat()
    mats = (f"{one} {other}", f"{other} {one}")
    values = {"event": "new", "starts_on": on, "act": "log", "every_weeks": 1, "until": on + 3 * WEEK}
    return [
        ("/events/log/", values | {"name": f"Run {name} {number}", "paste": mats[number % 2]}) for number in range(8)
    ]


def a_series_ended_and_changed(name, on):
    mat = make_plain_mat()
    event = planned(make_event(on + WEEK), mat, on=on)
    series = repeat_event(event, every_weeks=1, until=on + 5 * WEEK, by=None, on=on)
    last = series.events.order_by("starts_on").last()
    return [
        (f"/series/{series.pk}/end/", {"last_day": on + 2 * WEEK}),
        (f"/events/{event.code}/rest/", {"name": f"Moved {name}", "weekday": (on.weekday() + 1) % 7}),
        ("/events/log/", {"event": last.code, "act": "log", "paste": make_plain_mat().number}),
        (f"/mats/{mat}/withdraw/", {"withdrawn_on": on, "reason": "sold"}),
    ]


def the_policy_set_by_all(name, on):
    return [("/policy/", {"reason": name, "pool.look_ahead_days": str(days)}) for days in range(20, 100, 10)]


def measured_while_moved(name, on):
    mat = make_plain_mat(fitted=True)
    held = {fitting.position: fitting.segment for fitting in mat.fittings.select_related("segment")}
    found = {f"found-{segment.pk}": "1.30" for segment in held.values()}
    moved = fit_form(make_plain_mat(), 1, held[1].serial, on - DAY, move="on")
    return [(f"/bench/{mat}/", {"measured_on": on, "reason": "routine"} | found), moved]


COLLISIONS = (
    a_mat_in_four_spellings,
    one_event,
    one_event_with_its_mats,
    one_account,
    a_swap_of_two_cables,
    one_cable_for_many_positions,
    many_cables_for_one_position,
    eight_acts_on_one_mat,
    a_cable_taken_out_by_all,
    orders_while_cables_go_out,
    an_order_signed_off_by_all,
    an_order_signed_off_while_all_else_is_done_to_it,
    planned_while_withdrawn,
    fitted_while_withdrawn,
    corrected_into_each_other,
    a_position_deleted_while_used,
    another_design_while_fitted,
    an_event_answered_by_all,
    new_events_repeated_with_the_same_mats,
    a_series_ended_and_changed,
    the_policy_set_by_all,
    measured_while_moved,
)
