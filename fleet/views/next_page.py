"""Where an act leads back to: the page it was asked on, if that is one of ours."""

from django.shortcuts import resolve_url
from django.utils.http import url_has_allowed_host_and_scheme


def next_page(request, otherwise):
    """`otherwise`: a row with a page, or an address."""
    address = request.POST.get("next") or request.GET.get("next") or ""
    return address if is_ours(request, address) else resolve_url(otherwise)


def is_ours(request, address):
    """True for the address of a page of ours, written without its host."""
    # a word without its slash would be taken for the name of a view
    return address.startswith("/") and url_has_allowed_host_and_scheme(address, {request.get_host()})
