"""What `fuzz.py` types and sends: what people would, and what nobody should."""

import io
import random
import uuid
import warnings
import zipfile
from datetime import timedelta
from urllib.parse import quote, urlencode

from django.conf import settings

SESSION, CSRF = settings.SESSION_COOKIE_NAME, settings.CSRF_COOKIE_NAME
FORM, PARTS = "application/x-www-form-urlencoded", "multipart/form-data; boundary=zq7"
# found again unescaped in a page, they say that it is not safe
MARKUP, ATTRIBUTE = "<zq7 onload=x>", '" zq8="'
ELSEWHERE = (
    "//evil.example/",
    "https://evil.example/",
    "/\\evil.example",
    "javascript:zq7",
    "\t//evil.example",
    "http:///x",
)
TEXTS = (
    "",
    " ",
    MARKUP,
    ATTRIBUTE,
    f"'{MARKUP}",
    "{{ 7|add:7 }}{% now 'Y' %}",
    "%s%n%(x)d",
    "'; DROP TABLE fleet_mat; --",
    "../../../etc/passwd",
    "..",
    ".",
    "add",
    "log",
    "a/b",
    "a\\b",
    "M-1 to M-9999999",
    "M-001\nM-002, M-003;M-004",
    "\x00",
    "a\x00b",
    "\x07\x1b[31mred",
    "one\r\ntwo",
    "\u202edesrever",
    "\u2028",
    "\ufeff",
    "\ud800",
    "👩\u200d🔧 ٣٫٥ ﬃ ŉ İ ß",
    "\u0130" * 60,
    "x" * 61,
    "x" * 201,
    "x" * 5_000,
    "x" * 70_000,
    "=1+1",
    "[[[[",
    "null",
    "undefined",
    "00000000-0000-0000-0000-000000000000",
    *ELSEWHERE,
)
NUMBERS = (
    "-1",
    "0",
    "1",
    "0.0000001",
    "-0.0",
    "12,5",
    "1,234.5",
    "1e308",
    "1e-320",
    "1e999",
    "nan",
    "inf",
    "-inf",
    "0x10",
    "1_000",
    "½",
    "²",
    "٣",
    "32767",
    "32768",
    "2147483647",
    "2147483648",
    "9223372036854775807",
    "9223372036854775808",
    "9" * 25,
    "9" * 5_000,
    "-" + "9" * 30,
    "1" + "0" * 400,
)
DAYS = ("0001-01-01", "0026-05-02", "1949-12-31", "1969-12-31", "2026-02-30", "29.02.2024", "31/12/9999", "9999-12-31",
        "10000-01-01", "2026-13-01", "-2026-01-01", "2026-05-02T10:00", "+002026-05-02")  # fmt: skip
HOSTILE = (*TEXTS, *NUMBERS, *DAYS)
CONTENT_TYPES = (
    *(
        f"{FORM}; charset={name}"
        for name in ("hex", "punycode", "idna", "unicode_escape", "utf-16", "utf-7", "latin-1")
    ),
    *(f"{PARTS}; charset={name}" for name in ("hex", "idna", "utf-16", "unicode_escape")),
    "application/json",
    "text/plain",
    "",
    ";;;===",
    "multipart/form-data",
    "multipart/form-data; boundary=\xe9",
    "multipart/form-data; boundary=" + "b" * 500,
    "multipart/mixed; boundary=b",
    "application/x-www-form-urlencoded; boundary*=hex''%00",
    "\xff",
)
HEADERS = (
    ("Host", ("evil.example", "[", "a b", "localhost:99999999", "localhost@evil.example")),
    ("Referer", ("http://[", "\xff\xfe", "http://evil.example/", "x" * 9_000)),
    ("Origin", ("http://[", "null", "http://evil.example", "http://localhost", "\xff")),
    ("HX-Request", ("true",)),
    ("HX-Current-URL", ("http://[", "http://localhost/events/log/", "\xff", "javascript:zq7", "http://a]b")),
    ("HX-Trigger", ("%ff", MARKUP)),
    ("Cookie", (f"{SESSION}=\xff\x01; {CSRF}=\xe9; =; ;;;", f"{SESSION}=" + "x" * 5_000, f"{CSRF}=a; {CSRF}=b")),
    ("Accept-Language", ("x" * 5_000, "de-DE-1996,zz;q=9", "\xff")),
    ("Accept-Encoding", ("\xff", "gzip;q=nan")),
    ("If-Modified-Since", ("x", "Thu, 99 Foo 0000 99:99:99 GMT")),
    ("Range", ("bytes=abc", "bytes=9-1")),
    ("X-Forwarded-For", ("\xff", "127.0.0.1")),
    ("X-HTTP-Method-Override", ("DELETE",)),
    ("Content-Length", ("abc", "-5", "1", "9" * 30)),
)  # fmt: skip
# what people type into fields that have narrow limits
LIKELY = {
    "lengths_m": "0.6 1.1 1.6 2.1",
    "folds_m": "0.5 1.0 1.5",
    "width_m": "2.0",
    "weight_kg": "11,5",
    "cables": "4",
    "when": "March 2024",
    "times_a_year": "40",
    "frequency_mhz": "900",
    "temperature_c": "19.5",
    "db_per_m_400mhz": "0.38",
    "db_per_m_1000mhz": "0.62",
    "velocity_factor": "0.7",
    "bend_radius_mm": "25",
    "torque_min_nm": "0.8",
    "torque_max_nm": "1.1",
    "spanner_mm": "8",
    "standard_uncertainty_db": "0.1",
    "password": "muddy-hands-7",
}
METHODS = ("GET", "POST", "PUT", "DELETE", "PATCH", "HEAD", "OPTIONS", "TRACE", "zq7")
QUERIES = ("per_page", "page", "sort", "q", "find", "next", "mat", "position", "segment", "event", "on", "within",
           "until", "lengths", "owner", "depot", "status", "year", "state", "where", "place", "serial")  # fmt: skip


class Values:
    """Chosen by chance; `known(kind)` are codes that the pool holds."""

    def __init__(self, rng: random.Random, on, known):
        self.rng, self.on, self.known, self.made = rng, on, known, 0

    def hostile(self):
        return self.rng.choice(HOSTILE)

    def plausible(self, field):
        """What somebody would leave or type there; a list where there is more than one."""
        if field.name in ("csrfmiddlewaretoken", "token") or field.kind == "hidden":
            return field.value
        if field.kind in ("select", "radio"):
            return self.rng.choice(field.values) if field.values else ""
        if field.kind == "checkbox":
            return [value for value in field.values if self.rng.random() < (0.3 if len(field.values) == 1 else 0.5)]
        if field.kind == "password":
            return "muddy-hands-7"
        # the policy is one form of some thirty values
        kept = 0.97 if "." in field.name else 0.7
        if self.rng.random() < kept and (field.value or not field.required):
            return field.value
        return self._typed(field)

    def _typed(self, field):
        self.made += 1
        name = field.name
        if field.values:
            return self.rng.choice(field.values)
        if field.kind == "date" or name.endswith("_on") or name in ("until", "last_day"):
            return (self.on - timedelta(days=self.rng.randint(-60, 100))).isoformat()
        if name in ("mats", "paste"):
            new = f"N-{self.made}, N-{self.made + 1}"
            return new if field.required else ", ".join(self.rng.sample(self.known("mat"), 2))
        if name == "segment":
            return self.rng.choice(self.known("segment"))
        if name in ("number", "serial", "code", "name"):
            return str(self.made) if field.value.isdecimal() else f"Z-{self.made}"
        if name in LIKELY:
            return LIKELY[name]
        if name in ("reason", "what", "owner", "place", "lot", "steps", "measured_by", "removal_reason"):
            return self.rng.choice(("worn", "seen at packing", "Quay <north>", "Ölkanne"))
        return self.rng.choice(("1", "2", "0.9", "1.5", "1.0", "3", "12"))


def urlencoded(pairs):
    return urlencode(pairs, errors="surrogatepass").encode()


def in_parts(pairs, files):
    """A body of parts; `files`: (field, file name, bytes)."""
    out = []
    for name, value in pairs:
        out.append(_part(f'form-data; name="{_quoted(name)}"', value.encode(errors="surrogatepass")))
    for name, filename, content in files:
        out.append(_part(f'form-data; name="{name}"; filename="{_quoted(filename)}"', content))
    return b"".join(out) + b"--zq7--\r\n"


def _part(disposition, content):
    return b"--zq7\r\nContent-Disposition: %s\r\n\r\n%s\r\n" % (disposition.encode(errors="surrogatepass"), content)


def _quoted(name):
    return name.replace("\\", "\\\\").replace('"', '\\"').replace("\r", "").replace("\n", "")[:900]


def odd_body(rng, pairs, files):
    """(content type, body) that no form of a browser would be."""
    plain = urlencoded(pairs)
    kind = rng.randrange(9)
    if kind == 0:
        return FORM, "&".join(f"f{number}=1" for number in range(rng.choice((900, 20_001)))).encode()
    if kind == 1:
        body = in_parts(pairs, files)
        return PARTS, body[: rng.randrange(len(body))]
    if kind == 2:
        return PARTS, plain
    if kind == 3:
        return FORM, bytes(rng.randrange(256) for _ in range(200))
    if kind == 4:
        return rng.choice(CONTENT_TYPES), in_parts(pairs, files)
    if kind == 5:
        return FORM, plain + b"&" + plain
    if kind == 6:
        return FORM, plain.replace(b"=", b"%ED%A0%80=", 1) + b"&%=%zz&=&&&\xff=\xfe"
    if kind == 7:
        return PARTS, in_parts(pairs, files).replace(b"form-data", b"form-data; filename*=hex''%00;", 1)
    return rng.choice(CONTENT_TYPES), plain


def odd_target(rng, target, values):
    """An address with something in it that leads nowhere."""
    place, _, query = target.partition("?")
    hostile = quote(values.hostile(), safe="", errors="surrogatepass")[:4_000]
    parts = place.strip("/").split("/")
    if rng.random() < 0.4 and len(parts) > 1:
        parts[rng.randrange(1, len(parts))] = hostile
        return "/" + "/".join(parts) + "/"
    if rng.random() < 0.1:
        return "/" + hostile
    asked = [(rng.choice(QUERIES), values.hostile()) for _ in range(rng.randint(1, 3))]
    more = urlencode(asked, errors="surrogatepass")
    return f"{place}?{query}&{more}" if query and rng.random() < 0.5 else f"{place}?{more}"


def odd_headers(rng):
    return [(name, rng.choice(values)) for name, values in rng.sample(HEADERS, rng.randint(1, 3))]


def files_to_send(rng, values, on):
    """(file name, bytes) of some files: of a pool, nearly so, or not at all."""
    made = [_csv(rng, values, on) for _ in range(rng.randint(1, 3))]
    if rng.random() < 0.3:
        return [("pool.zip", _zipped(rng, made, values))]
    if rng.random() < 0.2:
        made.append((values.hostile()[:300] or "x", rng.choice((b"", b"PK\x03\x04", bytes(50), b"\xff\xfea\0"))))
    return made


def _csv(rng, values, on):
    """A file of one of the kinds that pages send most, with a hostile cell now and then."""
    day = (on - timedelta(days=rng.randint(0, 300))).isoformat()
    tag = uuid.UUID(int=rng.getrandbits(128)).hex[:6]
    mat, segment = rng.choice(values.known("mat")), rng.choice(values.known("segment"))
    rows = {
        "events.csv": (["event", "name", "starts_on", "ends_on", "place"], [f"E-{tag}", "run", day, day, "Quay"]),
        "mats.csv": (["mat", "design", "depot", "owner"], [f"F-{tag}", values.known("design")[0], "Quay", "club"]),
        "faults.csv": (["mat", "reported_on", "fault", "place", "what"], [mat, day, "7", "whole mat", "torn"]),
        "notes.csv": (["note", "on", "about", "code", "text"], [f"N-{tag}", day, "mat", mat, "tight nut"]),
        "measurements.csv": (["segment", "measured_on", "loss_db", "note"], [segment, day, "1.3", ""]),
        "usage.csv": (["event", "mat", "state"], [rng.choice(values.known("event")), mat, "planned"]),
        "work_orders.csv": (
            ["work_order", "mat", "raised_on", "position", "segment", "done_on"],
            [f"W-{tag}", mat, day, "1", segment, rng.choice((day, ""))],
        ),
        "policy.csv": (["setting", "value"], ["age_limit_years", "3"]),
    }
    name, (header, cells) = rng.choice(list(rows.items()))
    if rng.random() < 0.6:
        cells[rng.randrange(len(cells))] = values.hostile()
    if rng.random() < 0.1:
        header = [*header, *(f"c{number}" for number in range(rng.choice((1, 3_000))))]
    quoted = ",".join('"' + cell.replace('"', '""') + '"' for cell in cells)
    return name, f"{','.join(header)}\r\n{quoted}\r\n".encode(errors="surrogatepass")


def _zipped(rng, files, values):
    stream = io.BytesIO()
    kind = rng.choice(
        (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED, zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA)
    )
    # a name that comes twice is meant
    with warnings.catch_warnings(action="ignore"), zipfile.ZipFile(stream, "w", kind) as archive:
        for name, content in files:
            archive.writestr(
                name if rng.random() < 0.8 else rng.choice((".", "./.", "x/../y.csv", "a:b", "nothing")), content
            )
        if rng.random() < 0.2:
            archive.writestr("bomb.csv", bytes(3_000_000))
    content = bytearray(stream.getvalue().replace(b"nothing", b"\0othing"))
    if rng.random() < 0.3:
        content[rng.randrange(len(content))] = rng.randrange(256)
    return bytes(content)
