"""What a page holds for `fuzz.py`: the addresses it leads to, and its forms with all that can be sent in them."""

import dataclasses
from dataclasses import dataclass
from html.parser import HTMLParser
from urllib.parse import urldefrag, urljoin

SUBMITS = ("submit", "image")


@dataclass
class Field:
    """`kind`: the type of an input, or select and textarea; `value`: what it holds; `values`: what it offers."""

    name: str
    kind: str
    value: str = ""
    values: list = dataclasses.field(default_factory=list)
    listed: str = ""
    required: bool = False


@dataclass
class Form:
    """`buttons`: (name, value) of those that send it; `parts`: sent as parts, since it may hold files."""

    method: str
    action: str
    parts: bool = False
    fields: dict = dataclasses.field(default_factory=dict)
    buttons: list = dataclasses.field(default_factory=list)

    @property
    def held(self):
        """(name, value) of all that stands in it, with every question ticked."""
        ticks = [
            (each.name, value) for each in self.fields.values() if each.kind == "checkbox" for value in each.values
        ]
        rest = [each for each in self.fields.values() if each.kind not in ("checkbox", "file")]
        return [*ticks, *((each.name, each.value) for each in rest)]


class Page(HTMLParser):
    """`links` lead to addresses of the app; `forms` are what can be sent from here, also for a part of the page."""

    def __init__(self, address, text):
        super().__init__()
        self.address, self.links, self.forms = address, [], []
        self.by_id, self.form, self.select, self.area, self.list, self.lists = {}, None, None, None, None, {}
        self.feed(text)
        for each in (each for form in self.forms for each in form.fields.values()):
            each.values = each.values or self.lists.get(each.listed, [])

    def handle_starttag(self, tag, attrs):
        attrs = {name: value or "" for name, value in attrs}
        if tag == "form":
            self._begin(attrs)
        elif tag == "a":
            self._link(attrs.get("href", "#"))
        elif tag == "datalist":
            self.list = self.lists.setdefault(attrs.get("id"), [])
        elif tag == "option":
            self._option(attrs)
        elif tag in ("input", "select", "textarea", "button"):
            form = self.by_id.get(attrs["form"]) if "form" in attrs else self.form
            if form is not None:
                getattr(self, f"_add_{tag}")(attrs, form)
        self._parts(attrs)

    def handle_endtag(self, tag):
        if tag in ("form", "select", "textarea", "datalist"):
            setattr(self, {"textarea": "area", "datalist": "list"}.get(tag, tag), None)

    def handle_data(self, data):
        if self.area:
            self.area.value += data if self.area.value else data.removeprefix("\n")

    def _begin(self, attrs):
        method, parts = attrs.get("method", "get").lower(), attrs.get("enctype") == "multipart/form-data"
        self.form = self._send(Form(method, attrs.get("action", ""), parts))
        if "id" in attrs:
            self.by_id[attrs["id"]] = self.form

    def _send(self, form):
        form.action = urldefrag(urljoin(self.address, form.action or self.address)).url
        if is_ours(form.action):
            self.forms.append(form)
        return form

    def _link(self, href):
        address = urldefrag(urljoin(self.address, href)).url
        if is_ours(address) and not address.startswith("/static/"):
            self.links.append(address)

    def _parts(self, attrs):
        """What htmx asks for: an address, or the fields of the form around."""
        if "hx-get" in attrs:
            self._link(attrs["hx-get"])
        if "hx-post" in attrs:
            self._send(Form("post", attrs["hx-post"], False, self.form.fields if self.form else {}))

    def _add_input(self, attrs, form):
        name, kind, value = attrs.get("name"), attrs.get("type", "text").lower(), attrs.get("value", "")
        if kind in SUBMITS:
            form.buttons.append((name, value))
        elif name:
            field = Field(name, kind, listed=attrs.get("list", ""), required="required" in attrs)
            each = form.fields.setdefault(name, field)
            if kind in ("checkbox", "radio"):
                each.values.append(value or "on")
                each.value = (value or "on") if "checked" in attrs else each.value
            else:
                each.value = value

    def _add_select(self, attrs, form):
        self.select = form.fields.setdefault(attrs.get("name", ""), Field(attrs.get("name", ""), "select"))

    def _option(self, attrs):
        value = attrs.get("value", "")
        if self.list is not None:
            self.list.append(value)
        elif self.select is not None:
            self.select.value = value if "selected" in attrs or not self.select.values else self.select.value
            self.select.values.append(value)

    def _add_textarea(self, attrs, form):
        field = Field(attrs.get("name", ""), "textarea", required="required" in attrs)
        self.area = form.fields.setdefault(field.name, field)

    def _add_button(self, attrs, form):
        if attrs.get("type", "submit") in SUBMITS:
            form.buttons.append((attrs.get("name", ""), attrs.get("value", "")))
            if "formaction" in attrs:
                self._send(Form(form.method, attrs["formaction"], form.parts, form.fields))


def is_ours(address):
    return address.startswith("/") and not address.startswith("//")
