"""The form that a page holds, filled as a browser would send it."""

from html.parser import HTMLParser


def form_in(answer):
    """{name: value} of the last form inside <main>; of names that come more than once, a list."""
    reader = _FormReader()
    reader.feed(answer.content.decode().partition("<main")[2].partition("</main")[0])
    return reader.forms[-1] if reader.forms else {}


class _FormReader(HTMLParser):
    def __init__(self):
        super().__init__()
        self.forms, self.area, self.select = [], None, None

    def handle_starttag(self, tag, attrs):
        attrs = dict(attrs)
        if tag == "form":
            self.forms.append({})
        elif tag == "input" and attrs.get("name") and attrs.get("type") not in ("checkbox", "radio"):
            self._add(attrs["name"], attrs.get("value", ""))
        elif tag == "input" and attrs.get("name") and "checked" in attrs:
            self._add(attrs["name"], attrs.get("value", "on"))
        elif tag == "textarea":
            self.area = attrs["name"]
            self._add(self.area, "")
        elif tag == "select":
            self.select = attrs["name"]
        elif tag == "option" and (self.select not in self.forms[-1] or "selected" in attrs):
            self.forms[-1][self.select] = attrs.get("value", "")

    def handle_endtag(self, tag):
        if tag == "textarea":
            self.forms[-1][self.area] = self.forms[-1][self.area].removeprefix("\n")
            self.area = None
        elif tag == "select":
            self.select = None

    def handle_data(self, data):
        if self.area:
            self.forms[-1][self.area] += data

    def _add(self, name, value):
        form = self.forms[-1]
        form[name] = [*_listed(form[name]), value] if name in form else value


def _listed(value):
    return value if isinstance(value, list) else [value]
