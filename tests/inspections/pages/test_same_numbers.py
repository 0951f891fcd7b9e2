"""One cable, one number: whatever page or file tells of it."""

import csv
import io
import json
from datetime import timedelta

import pytest
from django.core.management import call_command
from factories import make_mat, make_reading

pytestmark = pytest.mark.django_db

# as binary numbers these lie below, above and on the half of the last place shown
LOSSES_DB = (2.195, 2.675, 2.125)


@pytest.mark.parametrize("loss_db", LOSSES_DB)
def test_a_loss_is_rounded_alike_on_every_page_that_shows_it(keeper_client, on, loss_db):
    mat = make_mat("M-001", fitted=True)
    segment = mat.fittings.get(position=1).segment
    make_reading(segment, loss_db, on, temperature_c=20, frequency_mhz=900)
    shown, other = f"{loss_db:.2f}", f"{2 * loss_db - float(f'{loss_db:.2f}'):.2f}"
    pages = (segment.get_absolute_url(), mat.get_absolute_url(), "/due/?status=all", f"/bench/{mat.number}/")
    for page in pages:
        text = keeper_client.get(page).content.decode()
        assert shown in text and other not in text, page


def test_due_list_file_and_report_name_the_same_day_and_cause(keeper_client, on, capsys):
    mat = make_mat("M-001", fitted=True)
    segment = mat.fittings.get(position=1).segment
    make_reading(segment, 3.6, on - timedelta(days=3), temperature_c=20, frequency_mhz=900)
    call_command("due", "--format", "json", "--all")
    report = {row["segment"]: row for row in json.loads(capsys.readouterr().out)["segments"]}
    streamed = b"".join(keeper_client.get("/due.csv").streaming_content).decode("utf-8-sig")
    line = next(row for row in csv.DictReader(io.StringIO(streamed)) if row["segment"] == segment.serial)
    reported = report[segment.serial]
    assert (line["due_on"], line["cause"], line["status"]) == (
        reported["due_on"],
        reported["cause"],
        reported["status"],
    )
    assert float(line["reference_loss_db"]) == reported["causes"]["loss"]["reference_loss_db"]
    assert line["trend_no_date_reason"] == "all readings on one day" and line["chance_over"] == ""
