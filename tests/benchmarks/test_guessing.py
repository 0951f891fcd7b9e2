"""The measuring of guessers runs against a server here; what it measures is for reading, and no goal is tested."""

import sys
from dataclasses import replace
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from guessing import WAYS, line, measure, signed_in

pytestmark = [pytest.mark.process, pytest.mark.django_db(transaction=True)]


def test_each_try_is_judged_or_refused_while_the_keeper_looks(live_server):
    port = live_server.thread.port
    keeper, judged = signed_in(port, code=""), 0
    for way in (WAYS[0], replace(WAYS[2], guessers=2), replace(WAYS[5], guessers=2)):
        seen = measure(way, port, keeper, seconds=0.2)
        assert seen.looks_s
        assert [each.startswith(("in after", "kept out: ")) for each in seen.keeper] == [True, True]
        assert seen.told["failed"] == 0
        assert way.guessers <= seen.told["judged"] + seen.told["refused"] == seen.told.total()
        assert line(way, seen, 1.0).startswith(way.words)
        judged += seen.told["judged"]
    assert judged
