"""What the policy of sources refuses: nothing that a page of ours does, and everything written into one."""

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# What somebody might bring to stand in a page, and the rule of the policy that refuses it.
WRITTEN_INTO_A_PAGE = {
    "<img src='/none.png' onerror='window.ran = true'>": "script-src-attr",
    "<p style='color: red'>A page</p>": "style-src-attr",
    "<style>p { color: red }</style>": "style-src-elem",
    "<iframe src='/sign-in/'></iframe>": "frame-src",
    "<object data='/static/sign.svg'></object>": "object-src",
    "<img src='http://far.invalid/x.png'>": "img-src",
    "<base href='http://far.invalid/'>": "base-uri",
}
REFUSED = """async (html) => {
  const refused = [];
  document.addEventListener("securitypolicyviolation", (event) => refused.push(event.effectiveDirective));
  document.body.insertAdjacentHTML("beforeend", html);
  for (let tries = 0; tries < 100 && !refused.length; tries++) await new Promise((next) => setTimeout(next, 20));
  return refused;
}"""
# in a turn of its own: what a debugger has evaluated may evaluate
RUN = """(text) => new Promise((done) => setTimeout(() => {
  document.body.append(Object.assign(document.createElement("script"), { text: "window.ran = true" }));
  try { done(eval(text)); } catch (error) { done(error.name); }
}))"""


def test_no_page_does_what_the_policy_refuses(every_page):
    assert len(every_page) > 60
    assert {seen.place: seen.complaints for seen in every_page if seen.complaints} == {}


@pytest.fixture
def page(chromium, live_server):
    """A page on which a refusal is no failure of the test."""
    context = chromium.new_context(base_url=live_server.url)
    yield context.new_page()
    context.close()


def test_nothing_that_is_written_into_a_page_runs_or_dresses_it(page, keeper):
    page.goto("/sign-in/")
    for html, rule in WRITTEN_INTO_A_PAGE.items():
        assert page.evaluate(REFUSED, html) == [rule], html
    assert page.evaluate("window.ran") is None


def test_no_text_is_run(page, keeper):
    page.goto("/sign-in/")
    assert page.evaluate(RUN, "1 + 1") == "EvalError"
    assert page.evaluate("window.ran") is None
