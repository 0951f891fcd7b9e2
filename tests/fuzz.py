"""Whatever is sent is answered: `python3 tests/fuzz.py [--requests 2000] [--real 300] [--seed 1] [--postgres]`.

Finds the pages and forms of the app by itself, from the first page on, and sends them what people would and what
nobody should: as each role, and as nobody. Each of `--requests` is hostile in a value, a body, a header or an
address; plain ones between them keep the pool moving. Then `--real` more go to the real server over HTTP.
Counted: answers of 500 and more, tracebacks and more than one line in the log, rules that `invariants.py` finds broken,
changes by somebody who may not, changes by a question, pages open to nobody, markup that comes back as such, redirects
that lead elsewhere. Prints each kind once with its first cause; exit code 1 where there is one.
On SQLite; `--postgres`: on a cluster made for it, too; `--here`: only on the empty database that the environment names.
"""

import argparse
import os
import random
import re
import sys
import threading
from collections import Counter, defaultdict
from pathlib import Path
from urllib.parse import unquote, urlencode

from django.conf import settings

TESTS = Path(__file__).resolve().parent
sys.path[:0] = [str(TESTS), str(TESTS.parent)]

START = (
    "/",
    "/mats/",
    "/cables/",
    "/events/",
    "/due/",
    "/files/",
    "/policy/",
    "/bench/",
    "/start/",
    "/people/",
    "/pool/",
)
REMEMBERED = 200
KEPT_OF_A_SHAPE = 40
LOOK_THROUGH_EVERY = 500
# of the forms sent, so many are filled as people would
PLAIN = 0.2


def main():
    parser = argparse.ArgumentParser(description="Send what nobody should to every page and form.")
    parser.add_argument("--requests", type=int, default=2_000)
    parser.add_argument("--real", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    where = parser.add_mutually_exclusive_group()
    where.add_argument("--postgres", action="store_true", help="also on PostgreSQL, in a cluster made for it")
    where.add_argument("--here", action="store_true", help="only on the empty database that the environment names")
    asked = parser.parse_args()
    if asked.here:
        sys.exit(run_here(asked))
    from stress import on_postgres, on_sqlite

    again = [sys.executable, __file__, "--here", "--requests", asked.requests, "--real", asked.real]
    again = [str(part) for part in [*again, "--seed", asked.seed]]
    sys.exit(any([on_sqlite(again), asked.postgres and on_postgres(again)]))


def run_here(asked):
    os.environ["DJANGO_SETTINGS_MODULE"] = "inspections.project.settings"
    os.environ["HALFPOWER_DAILY_COPY"] = "no"
    import django

    django.setup()
    from django.core.management import call_command
    from django.utils import timezone

    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    call_command("migrate", verbosity=0, interactive=False)
    import fuzz_pool
    from fuzz_browser import InProcess, OverHttp
    from stress import Server

    from inspections.management.starting import collect_for_this_start

    on = timezone.localdate()
    collect_for_this_start()
    fuzz_pool.fill(on)
    fuzz = Fuzz(InProcess(), on, seed=asked.seed)
    fuzz.run(asked.requests)
    if asked.real:
        server = Server()
        server.start()
        try:
            fuzz.turn_to(OverHttp(server.port, server.log))
            fuzz.run(asked.real)
        finally:
            server.kill()
    print(fuzz.report(), flush=True)
    return bool(fuzz.judge.found)


class Fuzz:
    """Somebody of each role, and what they know of the app so far: addresses by their shape, and forms."""

    def __init__(self, server, on, seed):
        import fuzz_pool
        from fuzz_judge import Judge
        from fuzz_values import Values

        self.pool, self.on, self.rng = fuzz_pool, on, random.Random(seed)
        self.values = Values(self.rng, on, fuzz_pool.known)
        self.judge, self.counts, self.acts = Judge(), Counter(), Counter()
        self.shapes, self.forms = defaultdict(list), []
        self.turn_to(server)
        for address in START:
            self._remember(address)

    def turn_to(self, server):
        from fuzz_browser import Person

        roles = {**self.pool.PEOPLE, "nobody": ""}
        self.people = [Person(name, role, server) for name, role in roles.items()]

    def run(self, requests):
        """So many hostile requests, and as many plain ones as it takes to find forms for them."""
        wanted = self.counts["hostile"] + requests
        looked = self.counts["hostile"]
        while self.counts["hostile"] < wanted:
            self._step()
            if self.counts["hostile"] - looked >= LOOK_THROUGH_EVERY:
                looked = self.counts["hostile"]
                self._look_through()
        self._look_through()

    def _step(self):
        person = self.rng.choices(self.people, weights=(8, 5, 3, 3, 3))[0]
        self._sign_in(person)
        if self.rng.random() < 0.15:
            self._ask_oddly(person)
            return
        if self.forms and self.rng.random() < 0.15:
            self._send(person, self.rng.choice(self.forms))  # of another page, person or time
            return
        page = self._visit(person)
        posts = [form for form in page.forms if form.method == "post"] if page else []
        if self.rng.random() < 0.97:
            posts = [form for form in posts if form.action != "/sign-out/"]  # it stands on every page
        if posts:
            form = self.rng.choice(posts)
            self.forms = [*self.forms[-REMEMBERED:], form]
            self._send(person, form)

    def _sign_in(self, person):
        if person.role and (self.rng.random() < 0.05 or settings.SESSION_COOKIE_NAME not in person.cookies):
            self.pool.mend_people()
            person.cookies[settings.SESSION_COOKIE_NAME] = self.pool.session_of(person.name)
        if not person.role:
            person.cookies.pop(settings.SESSION_COOKIE_NAME, None)

    def _visit(self, person):
        """The page at an address that some page led to; None where there is none for this person."""
        from fuzz_pages import Page

        address = self.rng.choice(self.shapes[self.rng.choice(list(self.shapes))])
        answer = self._ask(person, "GET", address, hostile=False)
        if answer.status != 200 or not answer.is_page:
            return None
        page = Page(address, answer.text)
        for link in page.links:
            self._remember(link)
        for form in page.forms:
            if form.method == "get":
                pairs = self._filled(form, self.rng.random() < 0.5)
                self._remember(f"{form.action.partition('?')[0]}?{urlencode(pairs, errors='surrogatepass')}"[:2_000])
            else:
                self._remember(form.action)
        return page

    def _remember(self, address):
        """By shape, so that a thousand cables are no more than one page for paper."""
        shape = re.sub(r"(?<=/)[^/]*[\d%<][^/]*(?=/|$)", "…", address.partition("?")[0]) + "?" * ("?" in address)
        known = self.shapes[shape]
        if address not in known:
            known.append(address)
            if len(known) > KEPT_OF_A_SHAPE:
                known.pop(self.rng.randrange(len(known)))

    def _ask_oddly(self, person):
        import fuzz_values

        address = self.rng.choice(self.shapes[self.rng.choice(list(self.shapes))])
        method = self.rng.choice(fuzz_values.METHODS) if self.rng.random() < 0.2 else "GET"
        headers = fuzz_values.odd_headers(self.rng) if self.rng.random() < 0.4 else []
        if self.rng.random() < 0.8 or not headers:
            address = fuzz_values.odd_target(self.rng, address, self.values)
        self._ask(person, method, address, headers=headers)

    def _send(self, person, form):
        """The form, filled as people would or worse."""
        import fuzz_values

        way = self.rng.random()
        pairs = self._filled(form, hostile=way > 0.85, one=PLAIN < way < 0.7)
        token = person.token if self.rng.random() < 0.95 else "x"
        pairs = [(name, token if name == "csrfmiddlewaretoken" else value) for name, value in pairs]
        files = fuzz_values.files_to_send(self.rng, self.values, self.on) if self._has_files(form) else []
        files = [(self._has_files(form), *file) for file in files]
        if form.parts:
            kind, body = fuzz_values.PARTS, fuzz_values.in_parts(pairs, files)
        else:
            kind, body = fuzz_values.FORM, fuzz_values.urlencoded(pairs)
        if 0.7 < way < 0.85:
            kind, body = fuzz_values.odd_body(self.rng, pairs, files)
        headers = [("Content-Type", kind), ("X-CSRFToken", token)]
        if self.rng.random() < 0.1:
            headers += fuzz_values.odd_headers(self.rng)
        target = form.action
        if self.rng.random() < 0.1:
            target = fuzz_values.odd_target(self.rng, target, self.values)
        hostile = way > PLAIN or len(headers) > 2 or target != form.action
        answer = self._ask(person, "POST", target, body, headers, hostile)
        if answer.status == 422 and answer.is_page and target == form.action:
            self._send_again(person, form, answer, hostile)

    def _send_again(self, person, form, refused, hostile):
        """As the page that refused it holds it, with what it asks ticked."""
        from fuzz_pages import Page
        from fuzz_values import FORM, urlencoded

        again = [
            each for each in Page(form.action, refused.text).forms if each.action == form.action and not each.parts
        ]
        if again:
            pairs = [(name, person.token if name == "csrfmiddlewaretoken" else value) for name, value in again[-1].held]
            pairs += [self.rng.choice(again[-1].buttons or [("", "")])]
            self.counts["sent again"] += 1
            self._ask(person, "POST", form.action, urlencoded(pairs), [("Content-Type", FORM)], hostile)

    def _has_files(self, form):
        return next((each.name for each in form.fields.values() if each.kind == "file"), "")

    def _filled(self, form, hostile=False, one=False):
        """(name, value) pairs; `one`: one field is hostile, else all or none."""
        fields = [each for each in form.fields.values() if each.kind != "file"]
        worse = self.rng.choice([each.name for each in fields] or [""]) if one else None
        pairs = []
        for each in fields:
            bad = each.name == worse or (hostile and each.name != "csrfmiddlewaretoken" and self.rng.random() < 0.7)
            value = self.values.hostile() if bad else self.values.plausible(each)
            pairs += [(each.name, one) for one in (value if isinstance(value, list) else [value])]
        if form.buttons:
            pairs.append(self.rng.choice(form.buttons))
        if hostile and self.rng.random() < 0.3:
            pairs.append(
                (self.rng.choice(("next", "confirmed", "left_out", "token", "act", "kept")), self.values.hostile())
            )
        return pairs

    def _ask(self, person, method, target, body=b"", headers=(), hostile=True):
        self.counts["hostile" if hostile else "plain"] += 1
        self.counts[person.role or "nobody"] += 1
        judged = self._watched(person, method, target)
        before = self.pool.state_of(judged)
        answer = person.ask(method, target, body, headers)
        self._wait_for_threads()
        self.counts[f"{answer.status // 100}xx"] += 1
        cause = f"{person.role or 'nobody'} {method} {target[:200]} {dict(headers)} {body[:1_500]!r}"
        self.judge.answered(answer, target, cause, signed_in=bool(person.role))
        if method == "POST" and person.role:
            self._count_act(target, answer)
        if judged:
            who = method if method != "POST" else person.role or "nobody"
            self.judge.changed(before, self.pool.state_of(judged), who, person.name, cause)
        return answer

    def _watched(self, person, method, target):
        """The models of which nothing may change now; those that are not watched cost no query."""
        if method != "POST":
            return self.pool.watched() if self.rng.random() < 0.1 else []
        kept = self.pool.kept_from(self.pool.role_of(person.name))
        # who signs out ends a session, whoever it is
        return [model for model in kept if model.__name__ != "Session"] if target.startswith("/sign-out/") else kept

    def _count_act(self, target, answer):
        """By the name of the address: a form that never led on was not tried in earnest."""
        from django.urls import Resolver404, resolve

        try:
            name = resolve(unquote(target.partition("?")[0])).view_name
        except Resolver404:
            return
        self.acts[name] += answer.status == 302
        self.counts["acts"] += answer.status == 302

    def _wait_for_threads(self):
        """An assessment beside the request, which shares the database."""
        for thread in threading.enumerate():
            if thread is not threading.current_thread() and thread.name.startswith("Thread-"):
                thread.join(30)

    def _look_through(self):
        from invariants import broken

        from inspections.assessment.services import ensure_assessed

        self.pool.mend_people()
        ensure_assessed(self.on)
        self.counts["looked through"] += 1
        for sentence in broken(self.on):
            self.judge.wrong("broken", re.sub(r"\d+", "0", sentence), sentence)

    def report(self):
        from django.db import connection

        lines = [f"{connection.vendor}: " + ", ".join(f"{number:,} {what}" for what, number in self.counts.items())]
        never = sorted(name for name, number in self.acts.items() if not number)
        lines.append(f"{len(self.shapes)} kinds of address found, forms sent to {len(self.acts)} addresses")
        lines.append(f"no act at {len(never)} of these: {', '.join(never)}")
        lines += self.judge.report()
        return "\n".join(lines)


if __name__ == "__main__":
    main()
