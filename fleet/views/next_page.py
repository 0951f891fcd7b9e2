"""Where an act leads back to: the page it was asked on, if that is one of ours."""

from django.utils.http import url_has_allowed_host_and_scheme


def next_page(request, otherwise):
    address = request.POST.get("next") or request.GET.get("next") or ""
    return address if url_has_allowed_host_and_scheme(address, {request.get_host()}) else otherwise.get_absolute_url()
