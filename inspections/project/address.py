"""The address under which people reach the pool, as HALFPOWER_ADDRESS says it. Text in, record out: no Django here."""

import ipaddress
import re
from dataclasses import dataclass

# one name or number of a computer, and perhaps its port: what stands in an address before its path, and nothing else
WHOLE = re.compile(r"(?P<scheme>https?)://(?P<host>\[[0-9a-f:]+\]|[a-z0-9.-]+)(?::(?P<port>\d{1,5}))?/?", re.ASCII)
LABEL = re.compile(r"[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?", re.ASCII)
USUAL_PORT = {"http": 80, "https": 443}
AS_ASKED = "Write it as https://pool.example.org or http://192.168.1.20:8000, with nothing behind the name or the port."


class NoAddress(ValueError):
    """Says in a sentence how an address is written."""


@dataclass(frozen=True)
class Address:
    """Where the pool is reached; `host` has the port with it where that is not the usual one, `name` never has."""

    scheme: str
    name: str
    host: str

    @property
    def is_encrypted(self):
        return self.scheme == "https"

    @property
    def text(self):
        """As browsers name it: in small letters, without the usual port and without a slash at the end."""
        return f"{self.scheme}://{self.host}"


def read_address(text):
    """The address that somebody wrote; None where nothing was written, NoAddress where it is none."""
    if not text.strip():
        return None
    found = WHOLE.fullmatch(text.strip().lower())
    name = found and _name(found["host"])
    if not name or not _is_port(found["port"]):
        raise NoAddress(AS_ASKED)
    scheme, port = found["scheme"], int(found["port"] or USUAL_PORT[found["scheme"]])
    return Address(scheme, name, name if port == USUAL_PORT[scheme] else f"{name}:{port}")


def is_of_this_computer(host):
    """Whether a host, as HALFPOWER_HOSTS or an address names it, is what a computer calls itself and nobody else."""
    name = host.strip().lower().strip("[].")
    if name == "localhost" or name.endswith(".localhost"):
        return True
    try:
        return ipaddress.ip_address(name).is_loopback
    except ValueError:
        return False


def _is_port(digits):
    return digits is None or 0 < int(digits) < 65_536


def _name(host):
    """As browsers write it, which take it for a number where its end looks like one; "" where it is none."""
    if host.startswith("[") or host.rpartition(".")[2].isdecimal():
        return _number(host.strip("[]"))
    return host if len(host) <= 253 and all(map(LABEL.fullmatch, host.split("."))) else ""


def _number(host):
    try:
        number = ipaddress.ip_address(host)
    except ValueError:
        return ""
    if number.is_unspecified:
        return ""
    return f"[{number.compressed}]" if number.version == 6 else str(number)
