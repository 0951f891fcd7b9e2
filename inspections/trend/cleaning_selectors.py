"""What cleaning took away at the bench: readings as found beside those after cleaning of the same day."""

from statistics import median

from django.db.models import Exists, OuterRef

from ..choices import Taken
from ..models import Measurement
from ..numeric.methods import loss_of_shown_db, shown_by
from ..numeric.paired_differences import paired_difference

# a pair agrees in all of these
ALIKE = ("segment", "measured_on", "instrument", "method", "frequency_mhz")


def cleaning_difference(on):
    """PairedDifference of all pairs on record by that day, in dB of the cables; one query.

    A pair: one cable, day, instrument, method and frequency, read as found and after cleaning; of repeats the median.
    Void and doubtful readings, and those without a number, are in none.
    """
    sure = Measurement.objects.valid_on(on).filter(loss_db__isnull=False, doubt_reason="")
    cleaned = sure.filter(segment=OuterRef("segment"), measured_on=OuterRef("measured_on"), taken=Taken.AFTER_CLEANING)
    rows = sure.filter(Exists(cleaned)).exclude(taken=Taken.AT_FITTING).order_by()
    read = {}
    for *key, taken, loss_db in rows.values_list(*ALIKE, "taken", "loss_db"):
        read.setdefault(tuple(key), {}).setdefault(taken, []).append(loss_db)
    pairs = [(key, each) for key, each in read.items() if len(each) == 2]
    shown = [shown_by(key[ALIKE.index("method")]) for key, _ in pairs]
    before, after = (
        loss_of_shown_db([median(each[taken]) for _, each in pairs], shown)
        for taken in (Taken.AS_FOUND, Taken.AFTER_CLEANING)
    )
    return paired_difference(before, after)
