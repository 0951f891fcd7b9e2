"""The form that a page holds, filled as a browser would send it."""

from html.parser import HTMLParser


def form_in(answer, to=None):
    """{name: value} of the last form inside <main>, or of the last that is sent `to` that address.

    Of names that come more than once, a list.
    """
    forms = [form for action, form in forms_in(answer) if to in (None, action)]
    return forms[-1] if forms else {}


def forms_in(answer):
    """(address or None for the page's own, {name: value}) of every form inside <main>."""
    reader = _FormReader()
    reader.feed(answer.content.decode().partition("<main")[2].partition("</main")[0])
    return list(zip(reader.actions, reader.forms, strict=True))


def seen_on(client, place):
    """{name: value} of what says in the form of that page which row it shows, and in which version."""
    form = form_in(client.get(place))
    return {name: form[name] for name in ("row", "version")}


class _FormReader(HTMLParser):
    def __init__(self):
        super().__init__()
        self.forms, self.actions, self.area, self.select = [], [], None, None

    def handle_starttag(self, tag, attrs):
        attrs = dict(attrs)
        if tag == "form":
            self.forms.append({})
            self.actions.append(attrs.get("action"))
        elif tag == "input" and attrs.get("name") and attrs.get("type") not in ("checkbox", "radio"):
            self._add(attrs["name"], attrs.get("value", ""))
        elif tag == "input" and attrs.get("name") and "checked" in attrs:
            self._add(attrs["name"], attrs.get("value", "on"))
        elif tag == "textarea":
            self.area = attrs["name"]
            self._add(self.area, "")
        elif tag == "select":
            self.select = attrs["name"]
        elif tag == "option" and self.select and (self.select not in self.forms[-1] or "selected" in attrs):
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
