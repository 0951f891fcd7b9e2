"""The curves of a sweep's page, read from the kept files anew."""

from dataclasses import dataclass

import numpy as np

from ..models import Sweep
from ..numeric.methods import FAR_END
from ..numeric.sweeps.losses import loss_curve
from ..numeric.sweeps.reading import read_sweep
from ..numeric.sweeps.records import SweepRefused
from ..numeric.words import Method
from ..sweep_files import SweepFileLost, kept_sweep_file


@dataclass(frozen=True)
class Curve:
    """dB over MHz of one sweep: the loss of the cable, or of one on its element what came back."""

    sweep: Sweep
    frequency_mhz: np.ndarray
    loss_db: np.ndarray


def curves_of(sweeps):
    """(the Curves that can be drawn, sentences on those that cannot)."""
    curves, lost = [], []
    for sweep in sweeps:
        try:
            curves.append(_curve_of(sweep))
        except (SweepFileLost, SweepRefused) as error:
            lost.append(f"{sweep}: {error}")
    return curves, lost


def _curve_of(sweep):
    read = read_sweep(kept_sweep_file(sweep.sha256))
    if sweep.method == Method.ON_ELEMENT:
        if read.return_loss_db is None or not np.isfinite(read.return_loss_db).all():
            raise SweepRefused("It holds no S11 that can be drawn.", "Download the file.")
        return Curve(sweep, read.frequency_mhz, read.return_loss_db)
    curve = loss_curve(read, FAR_END.get(sweep.method))
    return Curve(sweep, curve.frequency_mhz, curve.loss_db)
