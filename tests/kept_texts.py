"""Separated values as programs write them."""

from kept_cells import day, number


def semicolons_of_windows():
    text = 'sep=;\r\nMatte;Länge;Dämpfung;Tag\r\nM-1;3,5;"2,31";03.05.2024\r\nM-2;2;0,6;\r\n'
    rows = [
        [""] * 4,
        ["Matte", "Länge", "Dämpfung", "Tag"],
        ["M-1", "3,5", "2,31", "03.05.2024"],
        ["M-2", number("2"), "0,6", ""],
    ]
    return text.encode("cp1252"), {"semicolons": rows}


def tabs_of_unicode_text():
    text = "Event\tMats\tDay\nRegatta, day 1\t1–3; K4\t2024-05-03\n"
    rows = [["Event", "Mats", "Day"], ["Regatta, day 1", "1–3; K4", day("2024-05-03")]]
    return text.encode("utf-16"), {"tabs": rows}


def commas_with_lines_within():
    text = '\ufeffserial,note\n004711,"said ""fine"",\nthen not"\n12.50,\n'
    rows = [["serial", "note"], ["004711", 'said "fine",\nthen not'], [number("12.50"), ""]]
    return text.encode(), {"commas": rows}


def bars_below_a_title():
    text = "Readings of the bench, 2025; all in dB\n\nMat|Pos|dB\nM-1|1|0.61\nM-1|2|-\n"
    rows = [
        ["Readings of the bench, 2025; all in dB", "", ""],
        [""] * 3,
        ["Mat", "Pos", "dB"],
        ["M-1", number("1"), number("0.61")],
        ["M-1", number("2"), "-"],
    ]
    return text.encode(), {"bars": rows}


MAKERS = [
    ("semicolons.csv", semicolons_of_windows),
    ("tabs.txt", tabs_of_unicode_text),
    ("commas.csv", commas_with_lines_within),
    ("bars.csv", bars_below_a_title),
]
