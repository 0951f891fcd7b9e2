"""Whether a reading lies so far from what was expected of its cable that it is read again before it is believed.

Two conditions, both ours. More than three standard deviations: of sound readings 3 in 1000 are asked about (normal
distribution). More than 0.3 dB: the real losses of connectors are tenths of a dB, from a bent pin, a crimp or a gap,
and mostly come and go as the cable is connected anew; less than that changes no verdict that is not close anyway.
"""

import numpy as np

FAR_SDS = 3
FAR_DB = 0.3
# as often as it is then connected anew
RECONNECTIONS = 3


def is_far(loss_db, uncertainty_db, expected_db, expected_sd_db):
    """Whether readings `loss_db` of standard uncertainty `uncertainty_db` lie far from what was expected, dB.

    False where either is NaN. Arrays broadcast.
    """
    off_db = np.abs(np.asarray(loss_db, float) - expected_db)
    spread_db = np.hypot(uncertainty_db, expected_sd_db)
    # what lies on the border is not far, whatever the last binary digit
    return (off_db > FAR_DB + 1e-9) & (off_db > FAR_SDS * spread_db + 1e-9)
