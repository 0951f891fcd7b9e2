"""Contrast of the tokens, by the definitions of contrast ratio and relative luminance in WCAG 2.2 (W3C Recommendation).

Success criteria: 1.4.3 asks 4.5:1 of text, 1.4.11 asks 3:1 of borders and marks that carry meaning.
"""

import re
from pathlib import Path

import pytest

SHEETS = Path(__file__).parents[2] / "static" / "css"
GROUNDS = ("paper", "sheet", "band")
TEXTS = ("ink", "quiet", "accent", "now", "soon")
SCHEMES = ("light", "dark", "shown paper", "printed")


def relative_luminance(colour):
    """WCAG 2.2: 0 for black, 1 for white; sRGB threshold 0.04045."""
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast_ratio(one, other):
    """WCAG 2.2: (L1 + 0.05) / (L2 + 0.05), the lighter first; 1 to 21."""
    darker, lighter = sorted((relative_luminance(one), relative_luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def colours_of(scheme):
    """The tokens of one scheme; later blocks of the sheet override the first, as in the browser."""
    text = (SHEETS / "tokens.css").read_text()
    opening = {
        "light": ":root {",
        "dark": "@media (prefers-color-scheme: dark) {",
        "shown paper": "\n.paper {",
        "printed": "@media print {",
    }[scheme]
    block = text[text.index(opening) :]
    return dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", block[: block.index("\n}")]))


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        # WCAG 2.2 gives 1 and 21 as the ends; #767676 on white, W3C's example of just passing 4.5:1, is from memory.
        ("#000000", "#ffffff", 21.0),
        ("#ffffff", "#ffffff", 1.0),
        ("#767676", "#ffffff", 4.54),
    ],
)
def test_contrast_ratio_agrees_with_known_pairs(one, other, ratio):
    assert contrast_ratio(one, other) == pytest.approx(ratio, abs=0.005)


@pytest.mark.parametrize("scheme", SCHEMES)
def test_text_reaches_4_5_to_1_on_every_ground(scheme):
    colours = colours_of(scheme)
    pairs = [(text, ground) for text in TEXTS for ground in GROUNDS] + [("on-accent", "accent")]
    weak = {pair: contrast_ratio(*(colours[name] for name in pair)) for pair in pairs}
    assert {pair: ratio for pair, ratio in weak.items() if ratio < 4.5} == {}


@pytest.mark.parametrize("scheme", SCHEMES)
def test_rules_and_borders_reach_3_to_1_on_every_ground(scheme):
    colours = colours_of(scheme)
    ratios = {ground: contrast_ratio(colours["rule"], colours[ground]) for ground in GROUNDS}
    assert {ground: ratio for ground, ratio in ratios.items() if ratio < 3} == {}


@pytest.mark.parametrize("scheme", SCHEMES[1:])
def test_no_scheme_forgets_a_colour(scheme):
    assert colours_of(scheme).keys() == colours_of("light").keys()


def test_only_the_token_sheet_names_a_colour():
    named = re.compile(r"#[0-9a-f]{3,8}\b(?=[^{}]*;)|\b(?:rgb|hsl|oklch)a?\(", re.IGNORECASE)
    offenders = [sheet.name for sheet in sorted(SHEETS.glob("*.css")) if named.search(sheet.read_text())]
    assert offenders == ["tokens.css"]


def test_every_token_that_is_used_exists():
    sheets = {sheet.name: sheet.read_text() for sheet in SHEETS.glob("*.css")}
    known = set(re.findall(r"^ +--([\w-]+):", sheets["tokens.css"], re.MULTILINE))
    used = {(name, token) for name, text in sheets.items() for token in re.findall(r"var\(--([\w-]+)", text)}
    assert sorted((name, token) for name, token in used if token not in known) == []


def test_media_queries_name_no_width_but_the_break_points():
    sheets = {sheet.name: sheet.read_text() for sheet in SHEETS.glob("*.css")}
    named = set(re.findall(r"^  \w+ +((?:min|max)-(?:width|height): [\d.]+em)\b", sheets["tokens.css"], re.MULTILINE))
    asked = {
        (name, feature)
        for name, text in sheets.items()
        for query in re.findall(r"@(?:media|container)([^{]*)\{", text)
        for feature in re.findall(r"\(([^()]*(?:width|height|inline-size)[^()]*)\)", query)
    }
    assert {feature for _, feature in asked} == named
    assert sorted(named) == ["max-height: 30em", "max-width: 56.24em", "min-width: 56.25em"]


def test_style_sheets_stay_short():
    lengths = {sheet.name: len(sheet.read_text().splitlines()) for sheet in SHEETS.glob("*.css")}
    assert {name: lines for name, lines in lengths.items() if lines >= 200} == {}


def test_only_the_print_sheet_sets_the_margins_of_paper():
    """All sheets are joined: a margin set by another would hold for every page."""
    assert [sheet.name for sheet in SHEETS.glob("*.css") if "@page" in sheet.read_text()] == ["print.css"]
