"""A real Chromium on the live server. Where there is none the tests are skipped, or fail where one is required.

`HALFPOWER_CHROMIUM` names the browser; `HALFPOWER_BROWSER=required` makes a missing one a failure.
"""

import os
import shutil
import time

import pytest

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
# What Playwright leaves out itself, since Chromium heeds the last such list alone; then pages of Chromium's own for its
# line of addresses: each window loaded two, unseen, which took more than the page of ours.
LEFT_OUT = [
    "AvoidUnnecessaryBeforeUnloadCheckSync",
    "DestroyProfileOnBrowserClose",
    "HttpsUpgrades",
    "HttpsFirstBalancedModeAutoEnable",
    "LensOverlay",
    "MediaRouter",
    "PaintHolding",
    "ThirdPartyStoragePartitioning",
    "AvoidCorsURLLoaderRestartOnRedirect",
    "OptimizationHints",
    "NetworkTimeServiceQuerying",
    "AimEnabled",
    "PreconnectToSearch",
    *("WebUIOmniboxPopup", "WebUIOmniboxAimPopup", "WebUIOmniboxFullPopup"),
]
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    f"--disable-features={','.join(LEFT_OUT)}",
    # what would leave the machine comes to nothing
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE localhost, EXCLUDE 127.0.0.1",
]
ELSEWHERE = "pool.test"
WALKED = pytest.StashKey()


def chromium_path():
    named = os.environ.get("HALFPOWER_CHROMIUM")
    return named or next(filter(None, map(shutil.which, NAMES)), None)


@pytest.fixture(scope="session")
def chromium():
    path = chromium_path()
    if path is None:
        say = pytest.fail if os.environ.get("HALFPOWER_BROWSER") == "required" else pytest.skip
        say("No Chromium found: install it, or name it in HALFPOWER_CHROMIUM.")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=path, args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def open_page(chromium, live_server):
    """`open_page(person)` is a page signed in as that person.

    An error in a script of ours fails the test, and so does whatever our own policy of sources forbids to a page.
    Further arguments go to the browser context: `viewport`, `java_script_enabled`, `color_scheme`; `bypass_csp` where
    the test itself dresses the page.
    """
    contexts, errors = [], []

    def signed_in_page(person=None, **options):
        context = chromium.new_context(
            base_url=live_server.url, **{"viewport": {"width": 1280, "height": 900}, **options}
        )
        context.set_default_timeout(20_000)
        contexts.append(context)
        if person:
            context.add_cookies([{"url": live_server.url, **session_cookie(person)}])
        page = context.new_page()
        page.on("pageerror", lambda error: errors.append(str(error)))
        page.on("console", lambda said: errors.append(said.text) if "Content Security Policy" in said.text else None)
        return page

    yield signed_in_page
    for context in contexts:
        context.close()
    assert errors == []


@pytest.fixture
def page_of_large_text(chromium, live_server):
    """`page_of_large_text(person)`: a page of a browser whose own size of text is 32 px in place of 16."""
    browsers = []

    def page_of(person):
        large = [*ARGUMENTS, "--blink-settings=defaultFontSize=32"]
        browsers.append(chromium.browser_type.launch(executable_path=chromium_path(), args=large))
        context = browsers[-1].new_context(base_url=live_server.url)
        context.add_cookies([{"url": live_server.url, **session_cookie(person)}])
        return context.new_page()

    yield page_of
    for browser in browsers:
        browser.close()


@pytest.fixture
def open_profile(chromium, live_server, settings):
    """`open_profile(folder, person)` is a page of a browser of its own, which keeps all it keeps in that folder.

    It asks the pool by another name than localhost over plain http, as in the network of a club: to a browser that is
    no secure place.
    """
    contexts = []
    settings.ALLOWED_HOSTS = [*settings.ALLOWED_HOSTS, ELSEWHERE]
    address = live_server.url.replace("localhost", ELSEWHERE)

    def page_of(folder, person=None, **options):
        context = chromium.browser_type.launch_persistent_context(
            folder,
            executable_path=chromium_path(),
            args=[*ARGUMENTS[:-1], f"--host-resolver-rules=MAP {ELSEWHERE} 127.0.0.1, MAP * ~NOTFOUND"],
            base_url=address,
            **options,
        )
        contexts.append(context)
        if person:
            tomorrow = time.time() + 24 * 3600
            context.add_cookies([{"url": address, "expires": tomorrow, **session_cookie(person)}])
        return context.new_page()

    yield page_of
    for context in contexts:
        context.close()


@pytest.fixture
def every_page(open_page, live_server, keeper, request):
    """A `page_walk.Visit` of every kind of page, as the keeper sees it on a phone, each opened once in a whole run."""
    from page_walk import pages_for, visit

    if WALKED not in request.config.stash:
        page = open_page(keeper, viewport={"width": 390, "height": 844})
        request.config.stash[WALKED] = [visit(page, live_server.url + place) for place in pages_for(keeper)]
    return request.config.stash[WALKED]


def session_cookie(person):
    from django.conf import settings
    from django.test import Client

    client = Client()
    client.force_login(person)
    return {"name": settings.SESSION_COOKIE_NAME, "value": client.cookies[settings.SESSION_COOKIE_NAME].value}
