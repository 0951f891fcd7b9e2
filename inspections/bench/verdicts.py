"""What one reading means against the limit in force: the one rule for the bench page, lists and saved readings."""

from dataclasses import dataclass, replace
from math import isnan, nan

from ..assessment.bench_day_selectors import Withheld
from ..assessment.policy_in_force import current_policy
from ..numeric.decibels import reference_loss_db
from ..numeric.methods import go_no_go_verdict, loss_of_shown_db, reading_uncertainty_db, set_as_said_db, shown_by
from ..numeric.verdicts import conformance_probability, verdict_of_chance
from ..numeric.words import Method, Shown, Verdict


@dataclass(frozen=True)
class Judgement:
    """`loss_db` of the cable and `reference_loss_db` are None for *no signal*, for the word of a go/no-go tester, and
    where the number tells no loss or cannot be compared (`verdict` is then '').

    `chance_over`: of the cable's loss being over the limit by this reading alone; None where it has no number.
    """

    verdict: str
    loss_db: float | None
    reference_loss_db: float | None
    uncertainty_db: float
    limit_db: float
    reference_mhz: float
    no_signal: bool
    go_no_go: str = ""
    chance_over: float | None = None
    # how the cable was connected, the number that stood there, and to what a go/no-go tester is set
    method: str = ""
    number_db: float | None = None
    set_limit_db: float | None = None
    # why its bench day gives no verdict
    withheld: Withheld | None = None

    @property
    def is_return_loss(self):
        return self.number_db is not None and shown_by(self.method) == Shown.RETURN_LOSS

    @property
    def on_element(self):
        return self.method == Method.ON_ELEMENT

    @property
    def not_referenced(self):
        return self.method == Method.NOT_REFERENCED

    def withheld_for(self, why):
        """Without its verdict, where there is a reason (Withheld); else itself."""
        return self if why is None else replace(self, verdict="", chance_over=None, withheld=why)

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

    def judge(self, loss, frequency_mhz=None, temperature_c=None, instrument=None, method=""):
        """`loss`: a TypedLoss; no signal is over. None elsewhere means as the pool's default says."""
        shown = shown_by(method, loss.go_no_go)
        cable_db = _nan(loss.loss_db) if loss.loss_db is None else float(loss_of_shown_db(loss.loss_db, shown))
        at_reference = float(reference_loss_db(cable_db, _nan(frequency_mhz), _nan(temperature_c), self.reference_mhz))
        uncertainty_db = self._uncertainty_db(instrument, shown)
        sure = float(conformance_probability(at_reference, uncertainty_db, self.limit_db))
        return Judgement(
            verdict=self._verdict(loss, sure, instrument),
            loss_db=_none(cable_db),
            reference_loss_db=_none(at_reference),
            uncertainty_db=uncertainty_db,
            limit_db=self.limit_db,
            reference_mhz=self.reference_mhz,
            no_signal=loss.no_signal,
            go_no_go=loss.go_no_go,
            chance_over=_none(1 - sure),
            method=method,
            number_db=loss.loss_db,
            set_limit_db=instrument.set_limit_db if instrument else None,
        )

    def _uncertainty_db(self, instrument, shown):
        own_db = instrument.uncertainty_db if instrument else None
        known_db = self.uncertainty_db if own_db is None else own_db
        return float(reading_uncertainty_db(known_db, bool(instrument and instrument.is_made_for_reflection), shown))

    def _verdict(self, loss, sure, instrument):
        if loss.no_signal:
            return Verdict.OVER.value
        if loss.go_no_go:
            set_db = _nan(instrument.set_limit_db if instrument else None)
            return str(go_no_go_verdict(*set_as_said_db(shown_by("", loss.go_no_go), set_db), self.limit_db))
        return str(verdict_of_chance(sure))


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
    return nan if value is None else value


def _none(value):
    return None if isnan(value) else value
