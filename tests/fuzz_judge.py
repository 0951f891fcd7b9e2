"""What is wrong with an answer, and with what changed by it, for `fuzz.py`."""

import re
from collections import Counter, defaultdict
from urllib.parse import unquote, urlsplit

from fuzz_values import ATTRIBUTE, MARKUP

HERE = "http://localhost"
# for nobody: to sign in, to make the first account
OPEN = ("/sign-in/", "/first-account/")
SLOW_S = 5
CAUSE = re.compile(r"^\S*(?:Error|Exception|Refus|Sent)\S*:.*", re.MULTILINE)


class Judge:
    """`found`: {kind of what is wrong, and what exactly: its causes}."""

    def __init__(self):
        self.found, self.slowest = defaultdict(list), []

    def wrong(self, kind, what, cause):
        self.found[kind, what[:200]].append(cause)

    def answered(self, answer, target, cause, signed_in=True):
        place = "/" + unquote(urlsplit(target).path).lstrip("/")
        if answer.status >= 500:
            said = CAUSE.findall("\n".join([answer.left, *answer.log]))
            self.wrong("server error", f"{answer.status} {said[-1] if said else place}", cause)
        for line in answer.log:
            if "Traceback (most recent call last)" in line:
                self.wrong("traceback", line.strip().splitlines()[-1], cause)
        if len(answer.log) > 1:
            self.wrong("more than one line in the log", answer.log[0][24:120], cause)
        if answer.is_page and (MARKUP in answer.text or ATTRIBUTE in answer.text):
            self.wrong("markup", place, cause)
        if leads_elsewhere(answer.headers.get("Location", "")):
            self.wrong("leads elsewhere", answer.headers["Location"], cause)
        is_read = answer.status == 200 and answer.is_page and 'name="username"' not in answer.text
        if is_read and not signed_in and not place.startswith(OPEN):
            self.wrong("open to nobody", place, cause)
        if answer.seconds > SLOW_S:
            self.wrong("slow", place, f"{answer.seconds:.1f} s {cause}")
        self.slowest = sorted([*self.slowest, (answer.seconds, cause[:100])])[-3:]

    def changed(self, before, after, who, name, cause):
        """Something changed that may not, by the question or by the role `who`; the account of `name` is their own."""
        before, after = (_of_others(state, name) for state in (before, after))
        names = {model for model in before if before[model] != after[model]}
        if names:
            self.wrong("changed", f"by {who}: {', '.join(sorted(names))}", cause)

    def report(self):
        yield "slowest: " + "; ".join(f"{seconds:.1f} s {cause}" for seconds, cause in self.slowest)
        for (kind, what), causes in sorted(self.found.items()):
            yield f"WRONG {len(causes)} times: {kind}: {what}\n    first: {causes[0]}"
        kinds = Counter()
        for (kind, _), causes in self.found.items():
            kinds[kind] += len(causes)
        yield f"{kinds.total():,} wrong" + "".join(f", {number:,} {kind}" for kind, number in kinds.most_common())


def _of_others(state, name):
    """The state without what is told of the account `name` itself, and without tries: whoever tries is counted."""
    others = {model: [row for row in state[model] if row[0] != name] for model in ("User", "AccountChange")}
    return {model: rows for model, rows in (state | others).items() if model not in ("SignInCount", "SignInTry")}


def leads_elsewhere(where):
    """Does this Location leave the app? Browsers pass over tabs and line breaks, and take a backslash for a slash."""
    where = re.sub(r"[\t\r\n]", "", where.strip())
    return bool(re.match(r"[/\\]{2}|[a-z][a-z0-9+.-]*:", where, re.IGNORECASE)) and not where.startswith(f"{HERE}/")
