"""Photos in the queue of a phone: small before they are sent, never in the way of what stands behind them."""

import pytest
from factories import make_mat
from field_phone import LOG, ONCE, OPEN_PAGE, chosen, log_it, offline, report, says, stored, type_event
from photos import TURNED, photo_bytes

from fleet.models import Fault, FaultPhoto

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
REPORT = "/mats/K4/faults/report/"
# [width, height, bytes] of each photo that is kept
KEPT = """async () => {
  const [{ fields }] = await queueStore.all();
  return Promise.all(fields.filter(([name]) => name === "photos").map(async ([, file]) => {
    const { width, height } = await createImageBitmap(file);
    return [width, height, file.size];
  }));
}"""
# as large as a photo, and nothing that can be drawn
BLOT = b"\xff" * 400_000


def hold_posts(page, act=lambda route: None):
    """Nothing answers what is sent from this page; the requests are given back."""
    posts = []

    def hold(route):
        if route.request.method != "POST":
            return route.continue_()
        posts.append(route)
        return act(route)

    page.route(f"**{REPORT}", hold)
    return posts


@pytest.fixture
def fault_page(open_page, log_hand):
    design = make_mat("4").design
    for number in ("8", "K4"):
        make_mat(number, design=design)
    page = open_page(log_hand, **OPEN_PAGE)
    page.clock.install()
    page.goto(REPORT)
    return page


def test_a_photo_is_made_small_and_upright_before_it_is_sent_and_a_small_one_stays(fault_page):
    large, small = photo_bytes((2400, 1800), TURNED) + bytes(400_000), photo_bytes((40, 30))
    with offline(fault_page):
        report(fault_page, chosen("large.jpg", large), chosen("small.jpg", small))
        says(fault_page, "kept on this phone: 1")
        fault_page.wait_for_timeout(500)
        (width, height, bytes_kept), (*_, bytes_of_small) = fault_page.evaluate(KEPT)
        assert (width, height) == (1200, 1600)
        assert bytes_kept < len(large) / 2
        assert bytes_of_small == len(small)
    fault_page.get_by_text("Reported: K4 is wet.").wait_for()
    assert (Fault.objects.get().place, FaultPhoto.objects.count()) == ("wet", 2)


def test_what_is_large_is_waited_for_longer_on_a_slow_line(fault_page):
    posts = hold_posts(fault_page)
    report(fault_page, chosen("blot.jpg", BLOT))
    fault_page.get_by_text("Sending it.").wait_for()
    fault_page.clock.fast_forward(80_000)
    fault_page.wait_for_timeout(500)
    fault_page.get_by_text("Sending it.").wait_for()
    fault_page.clock.fast_forward(20_000)
    fault_page.get_by_text("It is sent by itself as soon as it gets through.").wait_for()
    assert len(posts) == 1


def test_what_does_not_get_through_stops_nothing_behind_it(fault_page):
    hold_posts(fault_page, lambda route: route.abort())
    with offline(fault_page):
        report(fault_page)
        says(fault_page, "kept on this phone: 1")
    fault_page.goto(LOG)
    type_event(fault_page)
    log_it(fault_page)
    fault_page.wait_for_url("**/events/E-*/")
    says(fault_page, "kept on this phone: 1")
    assert stored() == ONCE


def test_photos_go_along_with_the_answer_to_a_question_but_for_one_refused_or_left_out(fault_page):
    good = [chosen("seen.jpg", photo_bytes()), chosen("seen.jpg", photo_bytes(colour="blue"))]
    report(fault_page, *good, chosen("empty.jpg", b""))
    along = fault_page.get_by_role("group", name="Chosen already, and sent along")
    along.wait_for()
    assert fault_page.locator(".field-error").inner_text().startswith("“empty.jpg” is not a photo")
    assert along.locator("label").all_inner_texts() == ["seen.jpg", "seen (2).jpg"]
    assert along.locator("p").all_inner_texts() == ["empty.jpg is left out."]
    assert fault_page.get_by_text("Choose it again").count() == 0
    along.get_by_label("seen (2).jpg").uncheck()
    report(fault_page, chosen("close.jpg", photo_bytes(colour="green")))
    fault_page.get_by_text("Reported: K4 is wet.").wait_for()
    assert (Fault.objects.get().place, FaultPhoto.objects.count()) == ("wet", 2)
