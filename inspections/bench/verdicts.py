"""What one reading means against the limit in force: the one rule for the bench page, lists and saved readings."""

from dataclasses import dataclass

from ..assessment.policy_in_force import current_policy
from ..numeric.decibels import reference_loss_db
from ..numeric.verdicts import verdict
from ..numeric.words import Verdict


@dataclass(frozen=True)
class Judgement:
    """`reference_loss_db` is None for *no signal* and for a reading that cannot be compared (`verdict` is then '')."""

    verdict: str
    reference_loss_db: float | None
    uncertainty_db: float
    limit_db: float
    reference_mhz: float
    no_signal: bool

    @property
    def compared(self):
        return self.verdict != ""

    @property
    def undecided(self):
        return self.verdict == Verdict.UNDECIDED


@dataclass(frozen=True)
class Criteria:
    """The policy that readings of one mat design are judged by; losses in dB, frequency in MHz."""

    limit_db: float
    uncertainty_db: float
    reference_mhz: float

    def judge(self, loss, frequency_mhz=None, temperature_c=None, instrument=None):
        """`loss`: a TypedLoss; no signal is over. None elsewhere means as the pool's default says."""
        uncertainty_db = instrument.standard_uncertainty_db if instrument else self.uncertainty_db
        if loss.no_signal:
            at_reference, word = None, Verdict.OVER.value
        else:
            given = loss.loss_db, _nan(frequency_mhz), _nan(temperature_c)
            at_reference = float(reference_loss_db(*given, self.reference_mhz))
            word = str(verdict(at_reference, uncertainty_db, self.limit_db))
        return Judgement(
            verdict=word,
            reference_loss_db=at_reference if at_reference == at_reference else None,
            uncertainty_db=uncertainty_db,
            limit_db=self.limit_db,
            reference_mhz=self.reference_mhz,
            no_signal=loss.no_signal,
        )


def criteria_of(policy, design_id=None):
    return Criteria(
        limit_db=policy.value("loss_limit_db", design_id=design_id),
        uncertainty_db=policy.value("reading_uncertainty_db"),
        reference_mhz=policy.value("reference_mhz"),
    )


def criteria_of_design(design_id):
    """The criteria in force now; one query."""
    return criteria_of(current_policy(), design_id)


def _nan(value):
    return float("nan") if value is None else value
