"""The address of the pool, as a phone is to use it."""

from ipaddress import ip_address
from urllib.parse import urlsplit

from django.conf import settings


def pool_address(request):
    """That of HALFPOWER_ADDRESS, else the one by which this page was asked for."""
    return settings.POOL_ADDRESS or f"{request.scheme}://{request.get_host()}"


def only_from_here(address):
    """Whether the address leads back to the computer that asks, whichever that is."""
    host = urlsplit(address).hostname or ""
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost" or host.endswith(".localhost")
