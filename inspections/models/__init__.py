from .assessment_runs import AssessmentRun
from .assessments import Assessment, PoolState, PoolTrend
from .bench_days import BenchDay, BenchDaySaid
from .measurements import Instrument, Measurement
from .policies import PolicyValue
from .reference_pieces import AgreedValue, ReferencePiece, ReferenceReading
from .work_orders import WorkOrder, WorkOrderLine

__all__ = [
    "AgreedValue",
    "Assessment",
    "AssessmentRun",
    "BenchDay",
    "BenchDaySaid",
    "Instrument",
    "Measurement",
    "PolicyValue",
    "PoolState",
    "PoolTrend",
    "ReferencePiece",
    "ReferenceReading",
    "WorkOrder",
    "WorkOrderLine",
]
