"""Two people load the same files at once."""

import threading
from datetime import date

import pytest
from django.db import connection
from pool_files import pool_files

from fleet.models import CableSegment, Load
from inspections.files.loading import load_pool_files

ON = date(2026, 9, 30)


def attempt(when_checked):
    """What a load came to: "stored" or "nothing new"."""
    _, load = load_pool_files(
        pool_files(), by=None, on=ON, progress=lambda text: text.startswith("checked") and when_checked()
    )
    return "stored" if load else "nothing new"


@pytest.mark.django_db(transaction=True)
def test_the_same_files_loaded_at_once_are_stored_once():
    outcomes, second_checked = [], threading.Event()

    def load_second():
        outcomes.append(attempt(second_checked.set))
        connection.close()

    second = threading.Thread(target=load_second)

    def let_the_second_begin():
        second.start()
        # long enough for the second to be checked as well, if nothing kept it waiting
        second_checked.wait(2)

    outcomes.append(attempt(let_the_second_begin))
    second.join()
    # the second waits until the first is done
    assert sorted(outcomes) == ["nothing new", "stored"]
    assert Load.objects.count() == 1
    assert CableSegment.objects.count() == 3
