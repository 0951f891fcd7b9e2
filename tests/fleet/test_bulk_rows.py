"""Rows written at once are what the same rows are that are saved one by one."""

from datetime import UTC, datetime
from decimal import Decimal

import pytest
from django.db import IntegrityError, connection, transaction
from factories import make_cable_type, make_mat
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from fleet.models import CableSegment, Depot, MatDesign, Note, Price
from fleet.models.bulk_rows import CHUNK, insert_rows

AT = datetime(2026, 3, 1, 12, 30, 1, 5, tzinfo=UTC)
# what a row to COPY would break at, or read as something else
AWKWARD = ["", "\\N", "\\.", "a\tb", "a\nb\r\nc", "\\", "\\t", '"', "'", "Ü 漢 🙂", "\u2028", "NULL", "100 %s %", "?"]


def as_stored(model, *leaving):
    names = [field.attname for field in model._meta.concrete_fields if field.attname not in ("id", *leaving)]
    return list(model.objects.order_by("pk").values(*names))


def saved(model, rows, **same):
    """What the database holds of rows that were saved one by one; they are taken away again."""
    with transaction.atomic():
        for row in rows:
            model(**row, **same).save()
        stored = as_stored(model)
        transaction.set_rollback(True)
    return stored


def inserted(model, rows, **same):
    insert_rows(model, {name: [row[name] for row in rows] for name in rows[0]}, same)
    return as_stored(model)


@pytest.mark.django_db
def test_texts_lists_and_numbers_come_out_as_those_of_rows_that_are_saved():
    rows = [
        {"code": f"D{number}", "width_m": width_m, "folds_m": folds_m, "steps": text}
        for number, (width_m, folds_m, text) in enumerate(
            [(None, [], ""), (0.1 + 0.2, [0.5, 1.25], AWKWARD[0]), (4.0, [1], "plain")]
            + [(1e-7, [], text) for text in AWKWARD]
        )
    ]
    assert saved(MatDesign, rows, recorded_at=AT) == inserted(MatDesign, rows, recorded_at=AT)


@pytest.mark.django_db
def test_amounts_and_what_is_empty_come_out_as_those_of_rows_that_are_saved():
    thin = make_cable_type("thin")
    rows = [
        {"cable_type_id": thin.pk, "length_m": length_m, "price": price, "lead_time_days": days}
        for length_m, price, days in [(0.6, Decimal("0.10"), None), (0.8, None, 14), (None, Decimal("12"), 0)]
    ]
    assert saved(Price, rows, recorded_at=AT) == inserted(Price, rows, recorded_at=AT)


@pytest.mark.django_db
def test_a_code_has_its_key_and_capitals_make_no_other_code():
    insert_rows(Depot, {"name": ["Fenmark", "Über"]}, {})
    assert [Depot.objects.named(name).get().name for name in ("FENMARK", "ÜBER")] == ["Fenmark", "Über"]
    with pytest.raises(IntegrityError), transaction.atomic():
        insert_rows(Depot, {"name": ["fenmark"]}, {})


@pytest.mark.django_db
def test_more_rows_than_go_at_once_are_all_there_and_the_next_row_that_is_saved_has_a_number_of_its_own():
    insert_rows(Depot, {"name": [f"Depot {number}" for number in range(2 * CHUNK + 1)]}, {})
    assert Depot.objects.count() == 2 * CHUNK + 1
    assert Depot.objects.create(name="Another").pk > max(
        Depot.objects.exclude(name="Another").values_list("pk", flat=True)
    )


@pytest.mark.django_db
def test_what_the_database_refuses_is_refused_and_nothing_of_it_is_stored():
    thin = make_cable_type("thin")
    with pytest.raises(IntegrityError), transaction.atomic():
        insert_rows(CableSegment, {"serial": ["C-1", "C-2"], "length_m": [0.6, -1.0]}, {"cable_type_id": thin.pk})
    assert not CableSegment.objects.exists()


@pytest.mark.django_db
def test_a_row_that_names_one_that_is_not_there_is_refused():
    with pytest.raises(IntegrityError), transaction.atomic():
        insert_rows(CableSegment, {"serial": ["C-1"], "length_m": [0.6]}, {"cable_type_id": 12_345})
        connection.check_constraints()


class AnyRows(TestCase):
    @given(
        st.lists(
            st.tuples(
                st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), min_size=1, max_size=12),
                st.dates(),
                st.none() | st.dates(),
            ),
            min_size=1,
            max_size=8,
        )
    )
    def test_notes_come_out_as_those_that_are_saved(self, drawn):
        rows = [
            {"code": f"N-{number}", "noted_on": noted_on, "text": text, "done_on": done_on and max(done_on, noted_on)}
            for number, (text, noted_on, done_on) in enumerate(drawn)
        ]
        same = {"about": "mat", "mat_id": make_mat().pk, "recorded_at": AT}
        assert saved(Note, rows, **same) == inserted(Note, rows, **same)
