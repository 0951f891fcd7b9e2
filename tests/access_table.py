"""Who may do what at which address: the one table. An address that stands nowhere in it fails a test."""

from addresses import CLOSED

LOOK, LOG, BENCH, KEEP = "visitor", "log", "bench hand", "keeper"
# there is no page to read, or no form to send
NONE = None

# (the least role that may read, the least that may send): names of addresses, or routes of those without a name
ACCESS = {
    (LOOK, NONE): [
        *(
            "cables/<code:serial>/",
            "mats/",
            "mats/<code:number>/",
            "today",
            "find",
            *("calendar", "calendar-week", "calendar-file"),
            *("season", "glossary", "fault-list", "shelf"),
            *("shelf-kind", "shelf-ledger", "lot-list", "lot"),
            *("buy", "buy-print", "buy-csv"),
            "pool",
            "lives",
            "length-limits",
            "limits-used",
            "limit-card",
            "rule-trial",
            "start-answer",
            "policy-progress",
        ),
        *("mat-list", "mat-detail", "segment-list", "segment-detail", "design-list", "design-detail"),
        *(
            "cable-type-list",
            "cable-type-detail",
            "depot-list",
            "price-list",
            "instrument-list",
            "bench-day-list",
            "bench-day",
        ),
        *("piece-list", "piece-detail"),
        *("sweep-list", "sweep", "sweep-file"),
        *("event-list", "event-detail", "series-detail"),
        *("due-list", "due-print", "due-csv", "work-order-list", "work-order-detail", "work-order-print"),
        *("batch-list", "batch", "batch-sheet"),
        *("record-list", "record", "record-foot"),
        *("work-order-foot", "work-order-print-feet", "load-detail", "photo", "how-to-measure"),
        *("sample-list", "sample-detail", "sample-sheet"),
        *("labels", "label-print", "label-paper"),
    ],
    # their own account
    (LOOK, LOOK): ["own-password", "calendar-address"],
    (NONE, LOOK): ["sign-out", "own-sessions-end", "calendar-address-end"],
    (LOOK, KEEP): ["policy", "policy-design", "rule-cost", "files"],
    (LOG, LOG): [
        *("event-log", "event-answer", "event-home", "fault-report", "fault-end", "fault-photos"),
        *("mat-note-add", "segment-note-add", "event-note-add"),
    ],
    (LOG, NONE): ["queue-ready", "queue-shell", "queue-worker"],
    (NONE, LOG): ["usage-call-off", "note-done"],
    (BENCH, BENCH): [
        *("sweep-drop", "sweep-map"),
        *("bench-mat", "bench-move", "reading-void", "reading-doubtful"),
        *("piece-read", "piece-reading-correct", "piece-reading-delete", "bench-day-looked", "bench-day-not-trusted"),
        *("segment-add", "fit", "take-out", "mat-change", "fitting-delete"),
        *("shelf-receive", "shelf-receive-set", "shelf-move", "shelf-scrap"),
        *("batch-start", "batch-correct", "batch-strike", "batch-end"),
        *("work-order-raise", "work-order-raise-all", "work-order-done", "work-order-give", "record-make"),
        "sample-draw",
    ],
    (BENCH, NONE): ["bench"],
    (NONE, BENCH): ["bench-verdicts", "mat-change-verdicts", "batch-read", "sweep-drop-one"],
    (KEEP, KEEP): [
        *("work-order-withdraw", "record-withdraw", "sample-end", "sample-withdraw"),
        *("start", "work-days", "person-add", "files-waiting", "load-take-back", "sheets-columns", "sheets-made"),
        *("length-limits-use", "limits-take-back"),
        "copy-restore",
        "shelf-count",
        *("log-link-add", "log-link-withdraw"),
        *("event-add", "event-correct", "usage-correct", "event-repeat", "event-rest", "series-end", "loan-back"),
        "usage-instead",
        *("mat-add", "mat-correct", "mat-withdraw", "segment-correct", "segment-withdraw", "fitting-correct"),
        *("fitting-days", "mat-months", "usual-use", "note-correct", "fault-correct", "photo-take-off"),
        *("design-add", "design-correct", "design-withdraw", "position-add", "position-correct", "position-delete"),
        *("cable-type-add", "cable-type-correct", "cable-type-withdraw"),
        *("price-add", "price-paste", "price-add-set", "price-correct", "price-delete"),
        *("depot-add", "depot-correct", "depot-withdraw", "instrument-add", "instrument-correct"),
        *("piece-add", "piece-correct", "piece-withdraw", "piece-agree", "agreed-value-correct"),
        *("instrument-withdraw", "mat-delete", "segment-delete", "event-delete"),
    ],
    (KEEP, NONE): ["people", "person", "log-links", "files-export", "files-workbook", "files-template", "copies"],
    (NONE, KEEP): [
        *("copy-download", "copy-send", "copy-leave"),
        *("copies-elsewhere", "copies-elsewhere-now", "copies-elsewhere-stop"),
        *("person-role", "person-password", "person-deactivate", "person-reactivate", "person-sessions-end"),
        *("renamed-codes-seen", "assess-again", "files-leave", "work-order-renew"),
    ],
}
READS = {name: reads for (reads, _), names in ACCESS.items() for name in names}
SENDS = {name: sends for (_, sends), names in ACCESS.items() for name in names}
# {the name in the table: its route}
ROUTES = {name or route: route for name, route in CLOSED}


def least(name, method):
    """The least role that is not refused; that there is no page, or no form, is told to those whom the rest is for."""
    return (SENDS[name] or READS[name]) if method == "POST" else (READS[name] or SENDS[name])


def guarded(name):
    """Whether some role is refused something there."""
    return LOOK not in (least(name, "GET"), least(name, "POST")) or SENDS[name] not in (NONE, LOOK)
