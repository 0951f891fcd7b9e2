"""Several people at one moment: threads that are let go together."""

import threading

from django.core.exceptions import ValidationError
from django.db import connection


def at_once(people, act):
    """What each of so many threads came back with: the answer, or the refusal in words."""
    answers, start = [], threading.Barrier(people)

    def run():
        start.wait()
        try:
            answers.append(act())
        except ValidationError as refusal:
            answers.append(" ".join(refusal.messages))
        finally:
            connection.close()

    threads = [threading.Thread(target=run) for _ in range(people)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return answers
