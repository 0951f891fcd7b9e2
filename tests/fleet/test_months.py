"""Calendar months, each named by its first day."""

from datetime import date

from fleet.months import last_of_month, months_after


def test_months_are_counted_across_years():
    assert months_after(date(2026, 1, 31), -1) == date(2025, 12, 1)
    assert months_after(date(2025, 12, 31), 14) == date(2027, 2, 1)


def test_a_month_ends_on_its_last_day_in_leap_years_too():
    assert last_of_month(date(2028, 2, 3)) == date(2028, 2, 29)
    assert last_of_month(date(2026, 2, 28)) == date(2026, 2, 28)
