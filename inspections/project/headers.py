"""What every answer tells the browser: what a page may load, send and use, and whether it may be kept."""

from django.conf import settings

# All that a page needs comes from here as a file of its own: nothing written inside a page runs or dresses it, whoever
# wrote it. Pictures may also be made by a script of ours, as those of a camera are.
SOURCES = {
    "default-src": "'none'",
    "script-src": "'self'",
    "style-src": "'self'",
    "img-src": "'self' blob: data:",
    "connect-src": "'self'",
    "worker-src": "'self'",
    "manifest-src": "'self'",
    "object-src": "'none'",
    "base-uri": "'none'",
    "form-action": "'self'",
    "frame-ancestors": "'none'",
}
REFERRER_POLICY = "same-origin"
# Of what a device has, a page may use the camera: it reads labels.
UNUSED = ("accelerometer", "autoplay", "display-capture", "geolocation", "gyroscope", "hid", "magnetometer")
UNUSED += ("microphone", "midi", "payment", "serial", "usb", "xr-spatial-tracking")
ALLOWED = {"camera": "(self)"} | dict.fromkeys(UNUSED, "()")


def answer_headers(pool_address):
    """{name: value}, for pages and for what refuses them. Whoever makes an answer may say otherwise who keeps it.

    pool_address: where a form may lead beside the place of its page; "" where nowhere else.
    """
    sources = SOURCES | {"form-action": f"{SOURCES['form-action']} {pool_address}".strip()}
    return {
        "Content-Security-Policy": "; ".join(f"{what} {where}" for what, where in sources.items()),
        "Referrer-Policy": REFERRER_POLICY,
        "Permissions-Policy": ", ".join(f"{what}={whom}" for what, whom in ALLOWED.items()),
        "Cross-Origin-Opener-Policy": "same-origin",
        "X-Content-Type-Options": "nosniff",
        "X-Frame-Options": "DENY",
        # nor by this computer: somebody else may sit down at it afterwards, and press Back
        "Cache-Control": "no-store",
    }


class Headers:
    """The outermost frame: no answer leaves without them, whatever failed further in."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        response = self.get_response(request)
        for name, value in settings.ANSWER_HEADERS.items():
            response.headers.setdefault(name, value)
        return response
