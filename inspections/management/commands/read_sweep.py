import json
import math
import sys
from argparse import ArgumentTypeError
from pathlib import Path

from django.core.management.base import CommandError

from inspections.management.pool_command import PoolCommand
from inspections.numeric.sweeps.lines import MOST_BYTES
from inspections.numeric.sweeps.losses import loss_at
from inspections.numeric.sweeps.reading import read_sweep
from inspections.numeric.sweeps.records import FarEndNotSaid, SweepRefused, mhz
from inspections.numeric.words import FarEnd

FAR_END = {FarEnd.OPEN: "open", FarEnd.SHORT: "shorted"}
ASK_FAR_END = "Write --far-end open or --far-end short."


def frequency(text):
    try:
        at_mhz = float(text)
    except ValueError:
        at_mhz = math.nan
    if not (math.isfinite(at_mhz) and at_mhz > 0):
        raise ArgumentTypeError(f"“{text}” is not a frequency: write a number of MHz such as 900.")
    return at_mhz


class Command(PoolCommand):
    help = "Read the loss of a cable from a sweep file, Touchstone or CSV. Ends with 1 when the file is refused."

    def add_arguments(self, parser):
        parser.add_argument("file", metavar="FILE", type=Path)
        parser.add_argument("--at", type=frequency, default=900.0, metavar="MHZ", help="frequency of the loss (900)")
        parser.add_argument(
            "--far-end", choices=list(map(str, FarEnd)), help="of a sweep of one port: how the far end of the cable was"
        )
        parser.add_argument("--format", choices=("text", "json"), default="text")

    def handle(self, *, file, at, far_end=None, format="text", **options):
        answer = answer_of(file, at, far_end and FarEnd(far_end))
        if format == "json":
            self.stdout.write(json.dumps(answer, indent=1))
        elif answer["accepted"]:
            self.stdout.write("\n".join(sentences(answer, far_end)))
        else:
            raise CommandError(answer["refusal"])
        if not answer["accepted"]:
            self.stdout.flush()
            sys.exit(1)


def answer_of(file, at_mhz, far_end):
    """What programs are told of a sweep file; numbers unrounded, null where there is none."""
    answer = dict.fromkeys(("accepted", "loss_db", "at_mhz", "points", "from_mhz", "to_mhz"))
    answer |= {"accepted": False, "at_mhz": at_mhz, "warnings": [], "refusal": None}
    try:
        sweep = read_sweep(bytes_of(file))
        answer |= {"points": sweep.points, "from_mhz": sweep.from_mhz, "to_mhz": sweep.to_mhz}
        answer["warnings"] += sweep.warnings
        loss = loss_at(sweep, at_mhz, far_end=far_end)
    except SweepRefused as refusal:
        asks = [ASK_FAR_END] if isinstance(refusal, FarEndNotSaid) else []
        return answer | {"refusal": " ".join([refusal.sentence(file.name), *asks])}
    answer["warnings"] += loss.warnings
    return answer | {"accepted": True, "loss_db": loss.loss_db}


def bytes_of(file):
    """No more of the file than is needed to see that it is too large."""
    try:
        with file.open("rb") as opened:
            return opened.read(MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or error
        raise SweepRefused(f"The file cannot be read: {why}.", "Look whether its name is right.") from error


def sentences(answer, far_end):
    first, last = mhz(answer["from_mhz"]), mhz(answer["to_mhz"])
    yield f"{answer['loss_db']:z.2f} dB at {mhz(answer['at_mhz'])} MHz."
    if far_end:
        yield f"It is half the return loss with the far end {FAR_END[far_end]}, its mean over the whole sweep."
    if answer["points"] == 1:
        yield f"The sweep is one point at {first} MHz: it shows no curve and no distance to a fault."
    else:
        yield f"The sweep is {answer['points']:,} points from {first} to {last} MHz."
    yield from (f"Look: {warning}" for warning in answer["warnings"])
