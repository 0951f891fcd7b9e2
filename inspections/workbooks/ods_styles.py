"""What the cells of an .ods show of their numbers, by their styles (OpenDocument 1.3 part 3, 16.29 and 19.482)."""

from .number_formats import Shows
from .safe_xml import parse, xml_parser

_ODF = "urn:oasis:names:tc:opendocument:xmlns:"
NUMBER, STYLE, TABLE = f"{_ODF}datastyle:1.0 ", f"{_ODF}style:1.0 ", f"{_ODF}table:1.0 "
DATA_STYLES = {
    f"{NUMBER}{kind}-style" for kind in ("number", "date", "time", "currency", "percentage", "boolean", "text")
}


class Styles:
    """`shows(name)` of a cell's style; `hidden`: the styles of tables that are not shown.

    A quarter (`Q3 24`) is a code too: it stands in the cell as it is shown.
    """

    def __init__(self, *contents):
        self.hidden, self._what, self._of_cell, self._parent = set(), {}, {}, {}
        self._data_style, self._parts, self._style = "", [], ""
        for content in filter(None, contents):
            self._parser = xml_parser(self._start, self._end, namespaces=True)
            parse(self._parser, content)

    def shows(self, name):
        """What a cell of that style shows of a number or day; None where it has no form of its own."""
        # no chain of styles is that long: one that leads back to itself ends too
        for _ in range(20):
            if name in self._of_cell:
                return self._what.get(self._of_cell[name])
            name = self._parent.get(name)
        return None

    def _start(self, name, attributes):
        if name in DATA_STYLES:
            self._data_style, self._parts = attributes.get(f"{STYLE}name", ""), []
        elif name.startswith(NUMBER):
            self._parts.append((name.removeprefix(NUMBER), attributes, []))
            self._parser.CharacterDataHandler = self._parts[-1][2].append
        elif name == f"{STYLE}style":
            self._start_style(attributes)
        elif name == f"{STYLE}table-properties" and attributes.get(f"{TABLE}display") == "false":
            self.hidden.add(self._style)

    def _start_style(self, attributes):
        self._style = attributes.get(f"{STYLE}name", "")
        if data_style := attributes.get(f"{STYLE}data-style-name"):
            self._of_cell[self._style] = data_style
        self._parent[self._style] = attributes.get(f"{STYLE}parent-style-name")

    def _end(self, name):
        if name.startswith(NUMBER):
            self._parser.CharacterDataHandler = None
        if name in DATA_STYLES:
            self._what[self._data_style] = _shown_by(name, self._parts)


def _shown_by(style, parts):
    names = {name for name, _, _ in parts}
    if names & {"day", "day-of-week"}:
        return Shows.DAY_AND_TIME if names & {"hours", "minutes"} else Shows.DAY
    if names & {"quarter", "week-of-year"}:
        return Shows.CODE
    if "month" in names:
        return Shows.MONTH
    if "year" in names:
        return Shows.YEAR
    if style == f"{NUMBER}time-style":
        return Shows.TIME
    return Shows.CODE if style == f"{NUMBER}number-style" and _is_code(parts) else Shows.NUMBER


def _is_code(parts):
    """A whole number filled up with zeros, or behind letters."""
    place = next((place for place, (name, _, _) in enumerate(parts) if name == "number"), None)
    if place is None or parts[place][1].get(f"{NUMBER}decimal-places", "0") != "0":
        return False
    filled_up = parts[place][1].get(f"{NUMBER}min-integer-digits", "1") not in ("0", "1")
    before = "".join(piece for name, _, pieces in parts[:place] if name == "text" for piece in pieces)
    return filled_up or any(map(str.isalpha, before))
