"""Files that come to a page: no more is read of them than it takes, and what did not arrive is said."""

from django.contrib import messages
from django.core.exceptions import TooManyFilesSent
from django.http.multipartparser import MultiPartParserError
from django.shortcuts import redirect, render
from django.views.decorators.csrf import csrf_protect

from .validators import TooLarge, check_size

NOT_WHOLE = "The files did not arrive complete. Send them again."


def received(request, take, refuse, *, too_many, not_whole=NOT_WHOLE, too_large=TooLarge, beside_bytes=0):
    """The answer of `take(request)`; of `refuse(sentence, status)` where what comes, less `beside_bytes` for other
    fields, is more than any page takes, where it is `too_many` files, or ends too early.

    The view is `csrf_exempt`: to check the token reads the whole body, so that is done here, once its size is known.
    """
    try:
        check_size(int(request.META.get("CONTENT_LENGTH") or 0) - beside_bytes, too_large)
        return csrf_protect(take)(request)
    except too_large as error:
        return refuse(error.message, 413)
    except TooManyFilesSent:
        return refuse(too_many, 422)
    except MultiPartParserError:
        return refuse(not_whole, 400)


def refusing_on(request, page, template="413.html"):
    """The `refuse` of a page for people: what is too large has a page of its own, all else is said on `page`."""

    def refuse(sentence, status):
        if status == 413:
            return render(request, template, {"sentence": sentence}, status=status)
        messages.error(request, sentence)
        return redirect(page)

    return refuse
