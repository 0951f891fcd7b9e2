"""Two published inspections as if they were pools: from the table of inspections, through files, to the age at which
5 % are over, as the page says it.

Each part or wheel is a cable in a mat of its own, and each look a word of a go/no-go tester; a month is a month, and a
hundred hours too. Shapes and scales: Nelson 1982 (parts: p. 415; wheels: `turbine` of the package survival), fitted
there by lifelines 0.30.3 to the digits given; the age at 5 % follows from both, and its 90 % interval from the profile
of a likelihood that was written apart from the project.
"""

import io
import re
from datetime import date, timedelta
from html import unescape

import numpy as np
import pytest
from django.core.management import call_command
from django.utils import timezone
from life_data import cracked_parts, wheels
from page_words import words_in

pytestmark = [pytest.mark.django_db, pytest.mark.alike]
ON = date(2026, 10, 1)
DAYS_A_MONTH = 365.25 / 12

# lives, shape, scale, age at 5 % (months), its interval, standard errors of ln shape and ln scale
PUBLISHED = {
    "parts": (cracked_parts(), 1.48537, 71.6904, 9.7058, (6.927, 12.774), (0.0987, 0.0744)),
    "wheels": (wheels(), 2.17578, 46.7772, 11.9446, (9.270, 14.487), (0.1245, 0.0639)),
}


def files_of(lives):
    """The files of a pool of these inspections, by name."""
    rows = list(zip(lives.low.tolist(), lives.high.tolist(), strict=True))
    fitted, read = ["segment,fitted_on,mat,position"], ["segment,measured_on,loss_db,instrument,reason"]
    for row, (low, high) in enumerate(rows):
        first_on = ON - timedelta(round(DAYS_A_MONTH * (high if high < np.inf else low)))
        fitted.append(f"P-{row},{first_on},Q-{row},1")
        for age, word in ((low, "within"), (high, "over")):
            if 0 < age < np.inf:
                read.append(f"P-{row},{first_on + timedelta(round(DAYS_A_MONTH * age))},{word},gauge,routine")
    numbers = range(len(rows))
    return {
        "cable_types": "cable_type,db_per_m_400mhz,db_per_m_1000mhz\nthin,0.38,0.62\n",
        "mat_designs": "design\none\n",
        "positions": "design,position,length_m,cable_type\none,1,1.6,thin\n",
        "mats": "mat,design\n" + "".join(f"Q-{row},one\n" for row in numbers),
        "segments": "segment,cable_type,length_m\n" + "".join(f"P-{row},thin,1.6\n" for row in numbers),
        "instruments": "instrument,kind,set_limit_db\ngauge,go/no-go,3.0\n",
        "fittings": "\n".join(fitted),
        "measurements": "\n".join(read),
    }


@pytest.mark.parametrize("name", PUBLISHED)
def test_from_the_table_of_inspections_to_the_limit(name, tmp_path, visitor_client, monkeypatch):
    lives, shape, scale, age, (low, high), (se_shape, se_scale) = PUBLISHED[name]
    monkeypatch.setattr(timezone, "localdate", lambda *_, **__: ON)
    for file, text in files_of(lives).items():
        (tmp_path / f"{file}.csv").write_text(text, encoding="utf-8")
    call_command("load", str(tmp_path), stdout=io.StringIO(), stderr=io.StringIO())
    response = visitor_client.get("/lives/")
    found = response.context["page"].whole.life
    assert (found.lives, found.failures, found.clusters) == (len(lives), lives.failures, len(lives))
    # a reading lies on a whole day, which moves an age by half a day at most
    assert found.weibull.shape == pytest.approx(shape, rel=2e-3)
    assert 12 * found.weibull.scale == pytest.approx(scale, rel=1e-3)
    at_5 = found.ages_at[0.05]
    assert 12 * at_5.age == pytest.approx(age, rel=4e-3)
    # 200 draws settle an end to a few hundredths of the age; other ways to an interval differ by as much
    assert (12 * at_5.low, 12 * at_5.high) == pytest.approx((low, high), rel=0.08)
    normal = np.exp(1.645 * np.array([[-1, 1]]) * np.array([[se_shape], [se_scale]]))
    assert found.shape_interval == pytest.approx(shape * normal[0], rel=0.08)
    assert 12 * np.array(found.scale_interval) == pytest.approx(scale * normal[1], rel=0.08)
    # and in words
    text = words_in(unescape(response.content.decode()))
    said = re.search(r"5 % are over after (\d+) months \((\d+) to (\d+) months\)", text)
    assert [int(each) for each in said.groups()] == [int(12 * each + 1e-6) for each in (at_5.age, at_5.low, at_5.high)]
    assert f"No cable was watched beyond {int(lives.watched_until) // 12} years" in text
