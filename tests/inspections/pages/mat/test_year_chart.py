"""The year at a glance: each day in its place, each event once in the table, nothing drawn upon another."""

from datetime import date, timedelta
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from inspections.pages.mat.year_chart import DAY, LEFT, STATES, EventToDraw, year_strip

ON = date(2026, 11, 25)


def an_event(starts_on, days=1, state="went", **values):
    return EventToDraw("Fen run", starts_on, starts_on + timedelta(days=days - 1), state, 1, **values)


EVENTS = st.lists(
    st.builds(
        an_event,
        st.dates(date(2025, 6, 1), date(2027, 12, 31)),
        st.integers(1, 200),
        st.sampled_from(STATES),
    ),
    max_size=25,
)


def marks(strip):
    return [(month, mark) for month in strip.months for mark in month.marks]


def test_twelve_months_end_with_the_one_of_the_day():
    strip = year_strip([], ON)
    assert [month.first for month in strip.months][:: len(strip.months) - 1] == [date(2025, 12, 1), date(2026, 11, 1)]
    assert len(strip.months) == 12


def test_months_ahead_are_those_with_events_and_six_at_most():
    near, far = an_event(date(2027, 2, 6), state="planned"), an_event(date(2028, 2, 29), state="planned")
    assert year_strip([near], ON).months[-1].first == date(2027, 2, 1)
    strip = year_strip([near, far], ON)
    assert (strip.months[-1].first, strip.later) == (date(2027, 5, 1), 1)


def test_a_day_stands_in_its_own_place():
    (month, mark), *others = marks(year_strip([an_event(date(2026, 2, 28))], ON))
    assert not others and month.first == date(2026, 2, 1)
    assert mark.shape.x > LEFT + 27 * DAY and mark.shape.x + mark.shape.width < LEFT + 28 * DAY == month.right


def test_a_loan_over_the_turn_of_the_year_goes_on_from_month_to_month():
    strip = year_strip([an_event(date(2026, 8, 20), 60, "planned", loan=True)], ON)
    parts = [(month.first.month, mark.shape.begins, mark.shape.ends) for month, mark in marks(strip)]
    assert parts == [(8, True, False), (9, False, False), (10, False, True)]
    assert [bool(mark.shape.posts) for _, mark in marks(strip)] == [True, False, True]


def test_states_differ_in_shape():
    shapes = {
        state: year_strip([an_event(ON, state=state)], ON).months[-1].marks[0].shape
        for state in ("went", "not confirmed", "planned", "called off")
    }
    shown = {state: (shape.full and shape.full[1] / shape.bar[1], shape.crossed) for state, shape in shapes.items()}
    assert shown == {
        "went": (1, False),
        "not confirmed": (0.5, False),
        "planned": (None, False),
        "called off": (None, True),
    }


def test_usual_use_has_a_sign_and_a_word_of_its_own():
    strip = year_strip([an_event(ON, state="usual use"), an_event(ON, state="usual use, does not count")], ON)
    assert [(words, bool(shape.ring), shape.dotted) for words, shape, _ in strip.legend] == [
        ("usual use", True, True),
        ("usual use, does not count", True, False),
    ]
    titles = [mark.event.title for _, mark in marks(strip)]
    assert titles == [
        "Usual use of November 2026: 1 event",
        "Usual use of November 2026: 1 event; it does not count, as others are logged",
    ]


def test_all_that_can_be_explained_stands_in_one_line():
    every = [an_event(ON, state=state, loan=True, in_series=True) for state in STATES]
    strip = year_strip(every, ON)
    words, _, x = strip.legend[-1]
    assert len(strip.legend) == len(STATES) + 2 and x + 7 * len(words) < strip.width


@given(EVENTS)
def test_every_event_that_shows_is_counted_once_and_no_mark_covers_another(events):
    strip = year_strip(events, ON)
    first, end = strip.months[0].first, strip.months[-1].first + timedelta(days=31)
    shown = [event for event in events if event.ends_on >= first and event.starts_on < end.replace(day=1)]
    assert sorted(map(repr, strip.events)) == sorted(map(repr, shown))
    assert sum(number for _, number in strip.numbers) == len(shown)
    for month in strip.months:
        boxes = [(mark.shape.x, mark.shape.y, mark.shape.x + mark.shape.width) for mark in month.marks]
        assert all(LEFT <= left < right <= month.right for left, _, right in boxes)
        assert all(month.y <= y < month.bottom for _, y, _ in boxes)
        in_order = sorted(boxes, key=lambda box: (box[1], box[0]))
        assert all(a[1] != b[1] or a[2] <= b[0] for a, b in pairwise(in_order))
    assert strip.later == sum(event.starts_on >= end.replace(day=1) for event in events)


@given(EVENTS)
def test_the_widths_of_all_marks_are_the_days_shown(events):
    strip = year_strip(events, ON)
    first, end = strip.months[0].first, (strip.months[-1].first + timedelta(days=31)).replace(day=1)
    days = sum(
        max(0, (min(event.ends_on + timedelta(days=1), end) - max(event.starts_on, first)).days) for event in events
    )
    drawn = sum(mark.shape.width + 4 * mark.shape.begins + 4 * mark.shape.ends for _, mark in marks(strip))
    assert drawn == days * DAY
