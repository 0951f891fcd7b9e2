"""Sweep files as people have them: one sweep, written in any unit, format, order, line end and encoding."""

import cmath
import math
from dataclasses import dataclass, field

HZ_PER_UNIT = {"Hz": 1, "kHz": 10**3, "MHz": 10**6, "GHz": 10**9}
LINE_ENDS = ("\n", "\r\n", "\r")
ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252", "latin-1")
PLAIN_COMMENTS = ("segment 12", "Port Impedance50 0 50 0", "# GHz S MA R 75", "[End]", "890 1 2 3", "")
ACCENTS = ("21 °C", "Opérateur: équipe 2", "Prüfplatz ß")
# digits enough for any tolerance below
DIGITS = 12


@dataclass
class Truth:
    """What was written: `s` of each frequency as {(row, column): value}."""

    hz: list
    s: list
    ports: int
    notices: set = field(default_factory=set)

    def db(self, name):
        row, column = int(name[0]) - 1, int(name[1]) - 1
        pairs = sorted(zip(self.hz, self.s, strict=True), key=lambda pair: pair[0])
        return [(hz / 1e6, -20 * math.log10(abs(s[row, column]))) for hz, s in pairs]


def draw_truth(rng, ports, symmetric=False):
    """A sweep of a passive cable, by a random number generator `rng`."""
    count = rng.randint(1, 8)
    hz = sorted(rng.sample(range(1000, 20_000_001), count))
    s = []
    for _ in hz:
        values = {(0, 0): _value(rng, 5, 60)}
        if ports == 2:
            values |= {(1, 0): _value(rng, 0, 40), (0, 1): _value(rng, 0, 40), (1, 1): _value(rng, 5, 60)}
        if symmetric:
            values[0, 1] = values[1, 0]
        s.append(values)
    return Truth([khz * 1000 for khz in hz], s, ports)


def _value(rng, low_db, high_db):
    return cmath.rect(10 ** (-rng.uniform(low_db, high_db) / 20), math.radians(rng.uniform(-180, 180)))


class Writing:
    """How numbers, words and lines are written in one file."""

    def __init__(self, rng):
        self.rng = rng
        self.exponent = rng.choice(("", "", "e", "E", "D"))
        self.comma = rng.random() < 0.15
        self.between = rng.choice((" ", "  ", "\t", " \t"))
        self.encoding = rng.choice(ENCODINGS)

    def number(self, value):
        text = f"{value:.{DIGITS}e}" if self.exponent else f"{value:.{DIGITS}f}"
        text = text.replace("e", self.exponent) if self.exponent else text
        return text.replace(".", ",") if self.comma else text

    def frequency(self, hz, unit):
        whole, rest = divmod(hz, HZ_PER_UNIT[unit])
        digits = len(str(HZ_PER_UNIT[unit])) - 1
        text = f"{whole}.{rest:0{digits}d}" if digits else f"{whole}"
        return text.replace(".", ",") if self.comma else text

    def case(self, word):
        return self.rng.choice((word, word.upper(), word.lower()))

    def comment(self, at_the_end=False):
        # in UTF-16 without a mark the beginning of a file must be plain, or nothing tells its encoding
        accents = ACCENTS if at_the_end or self.encoding not in ("utf-16-le", "utf-16-be") else ()
        return "! " + self.rng.choice(PLAIN_COMMENTS + accents)

    def notices(self):
        said = {"commas"} if self.comma else set()
        return said | ({"D"} if self.exponent == "D" else set())

    def content(self, lines):
        """The bytes, with comments and blank lines between."""
        padded = []
        for line in lines:
            while self.rng.random() < 0.15:
                padded.append(self.rng.choice(("", "  ", self.comment())))
            padded.append(line)
        padded += [self.comment(at_the_end=True)] * self.rng.randint(0, 1)
        end = self.rng.choice(LINE_ENDS)
        return (end.join(padded) + end * self.rng.randint(0, 2)).encode(self.encoding)


def _pair(value, format, writing):
    if format == "RI":
        numbers = value.real, value.imag
    else:
        magnitude = 20 * math.log10(abs(value)) if format == "DB" else abs(value)
        numbers = magnitude, math.degrees(cmath.phase(value))
    return [writing.number(number) for number in numbers]


def _option(rng, writing, unit, format):
    parts = [[unit], ["S"], [format], ["R", "50"]]
    if unit == "GHz" and rng.random() < 0.5:
        parts.remove([unit])
    if format == "MA" and rng.random() < 0.5:
        parts.remove([format])
    parts = [part for part in parts if part[0] not in "SR" or rng.random() < 0.7]
    rng.shuffle(parts)
    words = [writing.case(word) for part in parts for word in part]
    return rng.choice(("#", "# ", "  #  ", "#\t")) + writing.between.join(words)


def _rows(rng, truth, writing, unit, format, order):
    rows = []
    for hz, s in zip(truth.hz, truth.s, strict=True):
        numbers = [number for place in order for number in _pair(s[place], format, writing)]
        rows.append(writing.between.join([writing.frequency(hz, unit), *numbers]) + rng.choice(("", " ", " ! ok")))
    return rows


def _sort(rng, rows, truth):
    ascending = list(rows)
    rng.choice((lambda: None, rows.reverse, lambda: rng.shuffle(rows)))()
    if rows != ascending:
        truth.notices.add("sorted")


ONE, S21_FIRST, S12_FIRST = [(0, 0)], [(0, 0), (1, 0), (0, 1), (1, 1)], [(0, 0), (0, 1), (1, 0), (1, 1)]
HALVES = {"Lower": [(0, 0), (1, 0), (1, 1)], "Upper": [(0, 0), (0, 1), (1, 1)]}


def draw_touchstone_1(rng):
    """(bytes of a file, its Truth)."""
    truth, writing = draw_truth(rng, rng.choice((1, 2))), Writing(rng)
    unit, format = rng.choice(list(HZ_PER_UNIT)), rng.choice(("RI", "MA", "DB"))
    rows = _rows(rng, truth, writing, unit, format, ONE if truth.ports == 1 else S21_FIRST)
    _sort(rng, rows, truth)
    truth.notices |= writing.notices()
    if truth.ports == 2 and rng.random() < 0.3:
        noise = [writing.frequency(min(truth.hz), unit), *map(writing.number, (1.3, 0.2, 40.0, 0.1))]
        rows += [writing.between.join(noise)] * rng.randint(1, 2)
    return writing.content([_option(rng, writing, unit, format), *rows]), truth


def draw_touchstone_2(rng):
    """(bytes of a file, its Truth)."""
    ports, half = rng.choice((1, 2)), rng.choice((None, None, *HALVES))
    half = half if ports == 2 else None
    truth, writing = draw_truth(rng, ports, symmetric=half is not None), Writing(rng)
    writing.comma = False
    unit, format = rng.choice(list(HZ_PER_UNIT)), rng.choice(("RI", "MA", "DB"))
    name, order = rng.choice((("21_12", S21_FIRST), ("12_21", S12_FIRST)))
    order = ONE if ports == 1 else HALVES[half] if half else order
    rows = _rows(rng, truth, writing, unit, format, order)
    _sort(rng, rows, truth)
    truth.notices |= writing.notices()
    head = [
        f"[{writing.case('Number of Ports')}] {ports}",
        *([f"[{writing.case('Two-Port Data Order')}] {name}"] * (ports == 2)),
        f"[{writing.case('Number of Frequencies')}] {len(rows)}",
        *rng.choice(([], ["[Reference] " + "50 " * ports], ["[Reference]", *["50.0"] * ports])),
        *([f"[{writing.case('Matrix Format')}] {half or 'Full'}"] * (half is not None or rng.random() < 0.3)),
        *rng.choice(([], ["[Begin Information]", "anything 1 2 3", "[Manufacturer] none", "[End Information]"])),
    ]
    noise = ["[Noise Data]", "1 2 3 4 5"] if ports == 2 and rng.random() < 0.2 else []
    end = rng.choice((["[End]"], ["[end]", "what follows is nothing"], []))
    lines = [f"[{writing.case('Version')}] {rng.choice(('2.0', '2.1'))}", _option(rng, writing, unit, format), *head]
    return writing.content([*lines, f"[{writing.case('Network Data')}]", *rows, *noise, *end]), truth


NAMES = {
    "21": ("S21 (dB)", "S21(DB)", "s21_db", "dB(S21)", "Trc1 S21 [dB]", "Transmission (dB)", "S(2,1) log mag"),
    "11": ("S11 (dB)", "s11_db", "dB(S11)", "Reflection (dB)"),
}
LOSSES = {
    "21": ("Loss (dB)", "Insertion loss (dB)", "Transmission Loss(dB)", "loss_db", "Dämpfung (dB)", "Attenuation [dB]"),
    "11": ("Return loss (dB)", "return_loss_db", "Rückflussdämpfung (dB)"),
}
FREQUENCIES = ("Frequency ({})", "Freq({})", "Frequenz [{}]", "freq_{}", "Fréquence ({})", "f / {}")


def draw_table(rng):
    """(bytes of a CSV, its Truth); a truth of one port where only S11 is in it."""
    truth, writing = draw_truth(rng, 2), Writing(rng)
    names = rng.choice((["21"], ["11"], ["21", "11"]))
    truth.ports = 1 if names == ["11"] else 2
    unit, separator = rng.choice(list(HZ_PER_UNIT)), rng.choice((",", ";", "\t"))
    writing.comma = separator != "," and rng.random() < 0.5
    if writing.encoding in ("utf-16-le", "utf-16-be"):
        writing.encoding = "utf-16"
    columns = [_table_column(rng, writing, truth, name) for name in names]
    columns += [["Phase (deg)", *["0"] * len(truth.hz)]] * rng.randint(0, 1)
    rng.shuffle(columns)
    head = writing.case(rng.choice(FREQUENCIES).format(unit))
    columns.insert(0, [head, *(writing.frequency(hz, unit) for hz in truth.hz)])
    lines = [separator.join(cells) for cells in zip(*columns, strict=True)]
    _sort(rng, rows := lines[1:], truth)
    truth.notices |= writing.notices() - {"commas"}
    above = rng.choice(([], ["BEGIN CH1_DATA"], ["Date: 2026-01-15", "# exported"], ["!CSV A.01"]))
    return writing.content([*above, lines[0], *rows, *rng.choice(([], ["END"]))]), truth


def _table_column(rng, writing, truth, name):
    is_loss = rng.random() < 0.5
    db = [value for _mhz, value in truth.db(name)]
    return [
        writing.case(rng.choice((LOSSES if is_loss else NAMES)[name])),
        *(writing.number(value if is_loss else -value) for value in db),
    ]


DRAW = (draw_touchstone_1, draw_touchstone_2, draw_table)
