"""The addresses of this machine in the network of the workshop, and one of them as a code that a phone reads."""

import io
import socket

import segno

# Reserved for documentation: no packet is sent, the system only says which of its addresses it would send from.
NOWHERE = ("192.0.2.1", 9)
BLOCKS = "█▀▄"


def own_addresses():
    """IPv4 addresses by which others reach this machine, the one of the usual way out first; none without a network."""
    found = [_way_out(), *_by_name()]
    return list(dict.fromkeys(address for address in found if address and not address.startswith("127.")))


def own_names():
    name = socket.gethostname()
    return [name, f"{name}.local"] if "." not in name else [name]


def qr_code(address, encoding):
    """The address as lines for a terminal; blocks where it can show them, else coloured blanks."""
    out = io.StringIO()
    segno.make_qr(address).terminal(out=out, border=2, compact=_shows_blocks(encoding))
    return out.getvalue()


def _shows_blocks(encoding):
    try:
        BLOCKS.encode(encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True


def _way_out():
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect(NOWHERE)
            return asking.getsockname()[0]
        except OSError:
            return None


def _by_name():
    try:
        return socket.gethostbyname_ex(socket.gethostname())[2]
    except OSError:
        return []
