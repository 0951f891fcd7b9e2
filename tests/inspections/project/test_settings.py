"""What the environment says is taken, or refused by name."""

import importlib

import pytest
from django.core.exceptions import ImproperlyConfigured

from inspections.project import settings as as_imported
from inspections.project.settings import time_zone


@pytest.mark.parametrize("name", ["Fenland/Quay", "Europe", "../etc/passwd", "/etc/localtime", "x" * 9_000])
def test_a_time_zone_that_nobody_knows_is_refused_by_name(monkeypatch, name):
    monkeypatch.setenv("HALFPOWER_TIME_ZONE", name)
    with pytest.raises(ImproperlyConfigured, match=f"HALFPOWER_TIME_ZONE is '{name[:9]}.*Europe/Amsterdam"):
        time_zone()


def test_a_time_zone_that_is_known_is_taken(monkeypatch):
    monkeypatch.setenv("HALFPOWER_TIME_ZONE", "Pacific/Chatham")
    assert time_zone() == "Pacific/Chatham"


@pytest.fixture
def cookies_of(monkeypatch):
    """The names of both cookies, as a start on that data folder has them."""

    def names(folder, address=""):
        monkeypatch.setenv("HALFPOWER_DATA", str(folder))
        monkeypatch.setenv("HALFPOWER_ADDRESS", address)
        read = importlib.reload(as_imported)
        return {read.SESSION_COOKIE_NAME, read.CSRF_COOKIE_NAME}

    yield names
    monkeypatch.undo()
    importlib.reload(as_imported)


def test_two_pools_of_one_computer_do_not_sign_each_other_out(cookies_of, tmp_path):
    one, other = cookies_of(tmp_path / "one"), cookies_of(tmp_path / "other")
    assert len(one | other) == 4
    assert not one & cookies_of(tmp_path / "one", "https://pool.example.org")


def test_a_pool_keeps_its_cookies_whatever_way_its_folder_is_named(cookies_of, tmp_path, monkeypatch):
    (tmp_path / "link").symlink_to(tmp_path / "one")
    monkeypatch.chdir(tmp_path)
    assert cookies_of("one") == cookies_of(tmp_path / "one") == cookies_of("link")
