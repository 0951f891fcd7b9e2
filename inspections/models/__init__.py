from .assessment_runs import AssessmentRun
from .assessments import Assessment, PoolState, PoolTrend
from .batches import Batch, BatchValue
from .bench_days import BenchDay, BenchDaySaid
from .digests import Digest
from .mat_records import MatRecord
from .measurements import Instrument, Measurement
from .policies import PolicyValue
from .reference_pieces import AgreedValue, ReferencePiece, ReferenceReading
from .samples import Sample, SampledMat
from .sheet_meanings import KeptMeaning
from .sweeps import Sweep
from .used_limits import UsedLimits
from .work_orders import WorkOrder, WorkOrderLine

__all__ = [
    "AgreedValue",
    "Assessment",
    "AssessmentRun",
    "Batch",
    "BatchValue",
    "BenchDay",
    "BenchDaySaid",
    "Digest",
    "Instrument",
    "KeptMeaning",
    "MatRecord",
    "Measurement",
    "PolicyValue",
    "PoolState",
    "PoolTrend",
    "ReferencePiece",
    "ReferenceReading",
    "Sample",
    "SampledMat",
    "Sweep",
    "UsedLimits",
    "WorkOrder",
    "WorkOrderLine",
]
