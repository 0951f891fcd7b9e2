"""The card of limits on paper: one sheet of A4 or Letter at its fullest."""

import io
from datetime import date
from types import SimpleNamespace

import numpy as np
import pytest
from django.template.loader import render_to_string
from life_data import drawn_pool
from pypdf import PdfReader

from inspections.limit_card.clock_services import ClockFound, Use
from inspections.limit_card.services import MOST_ROWS, RATES, CardRow, Limit, LimitCard
from inspections.limit_card.tables import CardTable
from inspections.numeric.lives.agreement import Agreement
from inspections.numeric.words import Clock
from inspections.static_files import joined_styles

pytestmark = pytest.mark.browser


def fullest_card():
    """As many rows as there can be, each with the longest words, and everything that may be said below."""
    by_use = tuple(Limit(11 + 11 / 12, True) for _ in RATES)
    lengths = np.linspace(0.45, 12.55, MOST_ROWS).round(2).tolist()
    rows = tuple(CardRow(each, Limit(1234, True), 1034, np.inf, by_use, 1234, 1034, each / 2) for each in lengths)
    return LimitCard(
        on=date(2026, 11, 28),
        why_none="",
        rows=rows,
        uses=tuple(RATES),
        found=ClockFound(Clock.EVENTS, 1234.5, 1234.5, 12345, True),
        use=Use(3, 10, 11),
        model=SimpleNamespace(readings=123456, segments=12345),
        agreement=Agreement(12345, 1.02, 0.98, 1.12, 0.1, 0.1, 0.9),
        lives=drawn_pool(1),
        ends=11 + 11 / 12,
        limit_db=3.0,
        risk=0.05,
        reference_mhz=900.0,
        first_on=date(2016, 9, 1),
        last_on=date(2026, 9, 30),
    )


def test_the_fullest_card_fits_on_one_sheet(chromium):
    card = fullest_card()
    context = {"card": card, "table": CardTable(card), "style": joined_styles()}
    page = chromium.new_page()
    page.set_content(render_to_string("inspections/limit_card/card.html", context))
    sheets = {
        paper: [sheet.extract_text() for sheet in PdfReader(io.BytesIO(page.pdf(format=paper))).pages]
        for paper in ("A4", "Letter")
    }
    page.close()
    assert {paper: len(each) for paper, each in sheets.items()} == {"A4": 1, "Letter": 1}
    # all of it is there: the last row, the last caution and the last sentence
    for text in ("12.55 m", "take precedence over this card", "those that were read"):
        assert all(text in " ".join(each[0].split()) for each in sheets.values())
