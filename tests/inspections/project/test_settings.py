"""What the environment says is taken, or refused by name."""

import pytest
from django.core.exceptions import ImproperlyConfigured

from inspections.project.settings import time_zone


@pytest.mark.parametrize("name", ["Fenland/Quay", "Europe", "../etc/passwd", "/etc/localtime", "x" * 9_000])
def test_a_time_zone_that_nobody_knows_is_refused_by_name(monkeypatch, name):
    monkeypatch.setenv("HALFPOWER_TIME_ZONE", name)
    with pytest.raises(ImproperlyConfigured, match=f"HALFPOWER_TIME_ZONE is '{name[:9]}.*Europe/Amsterdam"):
        time_zone()


def test_a_time_zone_that_is_known_is_taken(monkeypatch):
    monkeypatch.setenv("HALFPOWER_TIME_ZONE", "Pacific/Chatham")
    assert time_zone() == "Pacific/Chatham"
