from .assessment_runs import AssessmentRun
from .assessments import Assessment, PoolState, PoolTrend
from .bench_days import BenchDay
from .measurements import Instrument, Measurement
from .policies import PolicyValue
from .work_orders import WorkOrder, WorkOrderLine

__all__ = [
    "Assessment",
    "AssessmentRun",
    "BenchDay",
    "Instrument",
    "Measurement",
    "PolicyValue",
    "PoolState",
    "PoolTrend",
    "WorkOrder",
    "WorkOrderLine",
]
