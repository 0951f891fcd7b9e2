"""What a number of an instrument means, by how the cable was connected, and how sure it is by default.

Standard uncertainties are halves of U (k = 2), engineering judgement and labelled as such on pages: U 0.13 dB of a
corrected two-port, 0.27 dB with a response calibration only, 0.3 dB of typed scalar readings (a budget of trace 0.01,
two connections 0.03 each, mismatch 0.03 or 0.12, tracking, flexure, temperature). One port is our own: half of
a return loss carries half of its error, but the far end and one more mismatch come in.
"""

import numpy as np

from .words import SHOWN_BY_METHOD, SHOWN_BY_WORD, FarEnd, InstrumentKind, Method, Shown, Verdict

# the methods by which one port tells a loss
FAR_END = {Method.FAR_END_OPEN: FarEnd.OPEN, Method.FAR_END_SHORTED: FarEnd.SHORT}

DEFAULT_UNCERTAINTY_DB = {
    InstrumentKind.TWO_PORT: 0.066,
    InstrumentKind.RESPONSE_ONLY: 0.135,
    InstrumentKind.ONE_PORT: 0.2,
    InstrumentKind.LOSS_METER: 0.15,
}
# a reading by reflection is no surer than this, unless its instrument is made for it and has its own uncertainty
REFLECTION_UNCERTAINTY_DB = DEFAULT_UNCERTAINTY_DB[InstrumentKind.ONE_PORT]


def shown_by(method, go_no_go=""):
    """Shown of one reading, by the words on record."""
    return SHOWN_BY_WORD.get(go_no_go, SHOWN_BY_METHOD.get(method, Shown.LOSS))


def loss_of_shown_db(number_db, shown):
    """Loss of the cable, dB, from the number that the instrument showed and what that is (Shown): half of a return
    loss, NaN where it tells no loss. Arrays broadcast."""
    number_db, shown = np.asarray(number_db, float), np.asarray(shown)
    return np.select([shown == Shown.LOSS, shown == Shown.RETURN_LOSS], [number_db, number_db / 2], np.nan)


def reading_uncertainty_db(instrument_db, made_for_reflection, shown):
    """Standard uncertainty of readings, dB: of their instrument, and of a return loss no less than usual for one.

    `made_for_reflection`: a one-port instrument with an uncertainty of its own. Arrays broadcast.
    """
    raised = (np.asarray(shown) == Shown.RETURN_LOSS) & ~np.asarray(made_for_reflection)
    return np.where(raised, np.maximum(instrument_db, REFLECTION_UNCERTAINTY_DB), instrument_db)


def set_as_said_db(shown, set_limit_db):
    """(over, within): the limit in dB that a go/no-go tester was set to, where a reading shows (Shown) that it said so,
    else NaN. Arrays broadcast.

    A tester of which nobody said to what it is set (NaN) decides nothing: it counts as never set sharp enough.
    """
    shown, unknown = np.asarray(shown), np.isnan(set_limit_db)
    return (
        np.where(shown == Shown.OVER, np.where(unknown, -np.inf, set_limit_db), np.nan),
        np.where(shown == Shown.WITHIN, np.where(unknown, np.inf, set_limit_db), np.nan),
    )


def go_no_go_verdict(over_at_db, within_at_db, limit_db):
    """Array of Verdict of days of go/no-go readings; '' where there is none.

    `over_at_db`: the highest set limit at which the tester said *over* on the day (NaN: it never did), `within_at_db`
    the same of *within*. *Over* counts where it was set at or above the loss limit, *within* where at or below it; else
    they decide nothing. Over stands before undecided, undecided before within.
    """
    said_over, said_within = ~np.isnan(over_at_db), ~np.isnan(within_at_db)
    with np.errstate(invalid="ignore"):
        cases = [said_over & (over_at_db >= limit_db), said_over | (within_at_db > limit_db), said_within]
    return np.select(cases, [Verdict.OVER, Verdict.UNDECIDED, Verdict.WITHIN], "")
