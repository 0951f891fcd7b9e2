"""`serve` with an https address: asked by the proxy on this computer, and by somebody who comes past the proxy."""

import http.client
import re
import shutil
import socket
import subprocess
import sys
from urllib.parse import urlencode

import pytest
from django.core.exceptions import ValidationError
from nginx import NGINX, nginx
from served import PATIENCE_S, ROOT, code_in, free_port, run, serving, surroundings

from inspections.management.serving import open_server

POOL = "https://pool.example.org"
BY_PROXY = {"Host": "pool.example.org", "X-Forwarded-Proto": "https", "X-Forwarded-For": "203.0.113.9"}
NAME, PASSWORD = "mira", "muddy-hands-7"


@pytest.fixture(scope="module")
def port():
    return free_port()


@pytest.fixture(scope="module")
def pool(new_pool, port, tmp_path_factory):
    """A pool that is served, its first account made on this computer; what the server said."""
    folder = shutil.copytree(new_pool, tmp_path_factory.mktemp("behind") / "pool")
    with serving(folder, port, HALFPOWER_ADDRESS=POOL) as (_, said):
        made = sent(
            port, "/first-account/", {"again": PASSWORD, "code": code_in(said)}, Origin=f"http://127.0.0.1:{port}"
        )
        assert (made.status, made.getheader("Location")) == (302, "/")
        yield said


def asked(port, place, method="GET", body=None, trusting=None, **headers):
    """The answer, read; its cookies as they are sent back. `trusting`: it is asked over https."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)
    if trusting:
        plain = socket.create_connection(("127.0.0.1", port), timeout=PATIENCE_S)
        connection.sock = trusting.wrap_socket(plain, server_hostname=headers["Host"].partition(":")[0])
    connection.request(method, place, body, {name.replace("_", "-"): value for name, value in headers.items()})
    answer = connection.getresponse()
    answer.text = answer.read().decode()
    answer.cookies = "; ".join(line.partition(";")[0] for line in answer.headers.get_all("Set-Cookie", []))
    connection.close()
    return answer


def sent(port, place, more, **headers):
    """A form of name and password, filled in on its own page and sent from there."""
    origin, seen = headers.pop("Origin"), asked(port, place, **headers)
    form = {"csrfmiddlewaretoken": token_in(seen), "name": NAME, "username": NAME, "password": PASSWORD, **more}
    headers |= {"Content-Type": "application/x-www-form-urlencoded", "Cookie": seen.cookies, "Origin": origin}
    return asked(port, place, "POST", urlencode(form), **headers)


def token_in(page):
    return re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page.text)[1]


@pytest.mark.process
def test_it_says_where_people_open_it(pool):
    assert f"Open {POOL}/ in a browser." in pool


@pytest.mark.process
def test_through_the_proxy_one_signs_in_with_cookies_for_this_address_alone(pool, port):
    answer = sent(port, "/sign-in/", {}, **BY_PROXY, Origin=POOL)
    assert (answer.status, answer.getheader("Location")) == (302, "/")
    cookies = answer.headers.get_all("Set-Cookie")
    # the session, the token of forms, and that this browser signed in before
    assert len(cookies) == 3
    assert all(re.match(r"__Host-.*; Path=/;.*; Secure", cookie) for cookie in cookies)
    assert re.match(r"max-age=\d{8}$", answer.getheader("Strict-Transport-Security"))
    assert asked(port, "/mats/", **BY_PROXY, Cookie=answer.cookies).status == 200


@pytest.mark.process
def test_a_form_of_another_site_is_refused(pool, port):
    assert sent(port, "/sign-in/", {}, **BY_PROXY, Origin="https://other.example.org").status == 403
    assert sent(port, "/sign-in/", {}, **BY_PROXY, Origin="http://pool.example.org").status == 403


@pytest.mark.process
@pytest.mark.parametrize("host", ["pool.example.org", "127.0.0.1", "localhost"])
def test_what_comes_in_the_open_is_sent_to_the_address(pool, port, host):
    answer = asked(port, "/due/?status=now", Host=host)
    assert (answer.status, answer.getheader("Location")) == (301, f"{POOL}/due/?status=now")
    assert asked(port, "/due/", **BY_PROXY | {"Host": host, "X-Forwarded-Proto": "http"}).status == 301
    assert asked(port, "/due/", Host=host, Forwarded="proto=https").status == 301


@pytest.mark.process
def test_another_name_is_refused(pool, port):
    assert asked(port, "/sign-in/", **BY_PROXY | {"Host": "other.example.org"}).status == 400
    asked_by = {**BY_PROXY, "X-Forwarded-Host": "other.example.org"}
    assert "other.example.org" not in str(asked(port, "/due/", **asked_by).headers)


@pytest.mark.process
@pytest.mark.parametrize("chain", ["203.0.113.9", "127.0.0.1, 203.0.113.9", "127.0.0.1"])
def test_the_page_for_this_computer_stays_closed_to_whatever_was_passed_on(pool, port, chain):
    assert asked(port, "/first-account/").status == 404  # it is made
    assert asked(port, "/first-account/", **BY_PROXY | {"X-Forwarded-For": chain}).status == 403


@pytest.mark.process
@pytest.mark.skipif(NGINX is None, reason="There is no nginx here.")
def test_behind_nginx_as_the_readme_has_it_one_signs_in_and_sends_a_large_file(pool, port, tmp_path):
    with nginx(tmp_path, port) as (outside, trusting):
        via = {"Host": f"pool.example.org:{outside}", "trusting": trusting}
        for pretended in ({}, {"X-Forwarded-For": "127.0.0.1"}, {"X-Forwarded-Proto": "http"}):
            assert asked(outside, "/first-account/", **via, **pretended).status == 403
        via |= {"Origin": f"{POOL}:{outside}"}
        via |= {"Cookie": sent(outside, "/sign-in/", {}, **via).cookies}
        answer = asked(outside, "/files/", "POST", **file_of_mb(3, token_in(asked(outside, "/files/", **via))), **via)
        assert (answer.status, answer.getheader("Location")[:15]) == (302, "/files/waiting/")


def file_of_mb(number, token):
    """A form with a file of so many megabytes, as a browser sends it."""
    rows = "segment,cable_type,length_m\n" + "C-1,thin,0.5\n" * (number * 1_000_000 // 13)
    fields = {'name="csrfmiddlewaretoken"': token, 'name="files"; filename="segments.csv"': rows}
    parts = [f"--frame\r\nContent-Disposition: form-data; {name}\r\n\r\n{value}\r\n" for name, value in fields.items()]
    return {"body": "".join([*parts, "--frame--\r\n"]), "Content_Type": "multipart/form-data; boundary=frame"}


@pytest.mark.process
def test_the_deployment_check_has_nothing_to_say(folder):
    done = run(folder, "check", "--deploy", "--fail-level", "WARNING", HALFPOWER_ADDRESS=POOL)
    assert (done.returncode, done.stdout) == (0, "System check identified no issues (2 silenced).\n"), done.stderr


@pytest.mark.process
def test_a_wrong_address_is_refused_in_a_sentence(folder):
    done = run(folder, "check", HALFPOWER_ADDRESS="pool.example.org")
    assert done.returncode == 1
    assert "HALFPOWER_ADDRESS is 'pool.example.org'. Write it as https://pool.example.org or" in done.stderr
    assert "Traceback" not in done.stderr


SAID = "POOL_ADDRESS", "IS_ENCRYPTED", "SECURE_HSTS_SECONDS", "CSRF_TRUSTED_ORIGINS", "SESSION_COOKIE_SECURE"


@pytest.mark.process
def test_an_address_in_the_open_only_says_where_the_pool_is_reached(folder):
    code = f"from django.conf import settings as s; print([getattr(s, name) for name in {SAID}], s.ALLOWED_HOSTS[-1])"
    told = surroundings(folder) | {"HALFPOWER_ADDRESS": "http://192.168.1.20:8000/"}
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, env=told, capture_output=True, text=True, check=True)
    assert done.stdout == "['http://192.168.1.20:8000', False, 0, [], False] 192.168.1.20\n"


def test_the_network_is_not_served_past_the_proxy(settings):
    settings.IS_ENCRYPTED, settings.POOL_ADDRESS = True, POOL
    with pytest.raises(ValidationError, match=f"reach the pool at {POOL}, .* Leave --lan out"):
        open_server(8000, "0.0.0.0")


@pytest.mark.process
@pytest.mark.skipif(NGINX is None, reason="There is no nginx here.")
def test_while_the_app_is_down_the_proxy_logs_that_and_no_link_of_a_phone(tmp_path):
    with nginx(tmp_path, free_port()) as (outside, trusting):
        via = {"Host": f"pool.example.org:{outside}", "trusting": trusting}
        places = ("/due/", "/phone/a-secret/", "/calendar/feed/a-secret.ics")
        assert [asked(outside, place, **via).status for place in places] == [502] * 3
        logged = (tmp_path / "error.log").read_text()
    assert "/due/" in logged and "a-secret" not in logged
