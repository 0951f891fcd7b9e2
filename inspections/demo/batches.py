"""Two boxes of loose cables judged lately: a new lot with two bad ones, and used ones that are not done yet."""

from datetime import timedelta

from fleet.models import CableType, Depot

from ..batches.services import end_batch, enter_value, start_batch, strike_value
from ..choices import BatchOf
from ..models import Instrument
from ..numeric.words import Method
from ..validators import parse_loss
from . import names

LOT = "F5-2210"
# what was typed, as it is typed: the seventh is another length, the twelfth has a bad crimp, and both were read twice;
# the ninth was not tight the first time
NEW = (
    *("1.41", "1.38", "1.43", "1.40", "1.44", "1.39", "0.74", "1.42", "1.83", "9: 1.41", "1.37", "1.42", "2.21"),
    *("1.40", "7: 0.75", "12: 2.24", "1.45", "1.39", "1.41", "1.38", "1.43", "1.40", "1.42"),
)
# the fourth is over, the sixth too close to the limit to tell, the last one was typed twice by mistake
USED = ("1.21", "1.34", "1.18", "3.6", "1.40", "2.88", "1.27", "no", "1.27")
NEW_DAYS, USED_DAYS = 12, 1


def judge_batches(on, keeper):
    """Typed through the services that the page calls; no cable of them has a serial."""
    new = _judge(NEW, on, keeper, _new(on))
    end_batch(new, by=keeper, on=new.measured_on)
    used = _judge(USED, on, keeper, _used(on))
    last = used.values.order_by("pk").last()
    strike_value(last, by=keeper, on=on, reason="typed twice")


def _judge(words, on, keeper, said):
    batch = start_batch(by=keeper, on=on, **said)
    for typed in words:
        again, _, value = typed.rpartition(":")
        enter_value(batch, parse_loss(value), by=keeper, cable=int(again) if again else None)
    return batch


def _new(on):
    said = {"holds": BatchOf.NEW, "length_m": 2.1, "lot": LOT, "measured_on": on - timedelta(days=NEW_DAYS)}
    return said | _at("Quay Street", "Fen 5") | {"temperature_c": 20.0, "measured_by": names.MEASURED_BY[0]}


def _used(on):
    said = {"holds": BatchOf.LOOSE, "length_m": 1.1, "measured_on": on - timedelta(days=USED_DAYS)}
    return said | _at("Upper Mill", "Fen 2.5") | {"measured_by": names.MEASURED_BY[1]}


def _at(depot, cable_type):
    instrument, _, frequency_mhz = names.INSTRUMENTS[depot]
    return {
        "depot": Depot.objects.get(name=depot),
        "cable_type": CableType.objects.get(name=cable_type),
        "instrument": Instrument.objects.get(name=instrument),
        "frequency_mhz": frequency_mhz,
        "method": Method.THROUGH.value,
    }
