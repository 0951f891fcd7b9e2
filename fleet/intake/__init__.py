"""Files in and out. `check_files` judges a set whole, `store_files` stores it whole, `write_file` writes one back."""

from .checking import FileSet, check_files, quiet
from .correction_rules import check_corrected
from .csv_files import RawTable
from .differing import FILL_EMPTY, REFUSE_ALL, Answer, Difference, Differing
from .exporting import one_moment, write_file
from .files import LAYOUTS
from .findings import Finding, Findings, named, short
from .fitting_rules import (
    check_occupied_once,
    check_positions,
    check_spans,
    refuse_early_ends,
    warn_of_other_lengths,
)
from .folders import pick_files, read_folder
from .layouts import Column, Layout
from .price_rules import check_prices
from .series_rules import check_series
from .stock_rules import check_stock
from .storing import FilesRefused, UnusualRows, counts, depots_to_make, store_files
from .usage_rules import check_event_lengths, check_usage_days, check_usual_use
from .withdrawn_rules import check_withdrawn, refuse_reason_without_day

RULES = (
    check_spans,
    check_positions,
    check_occupied_once,
    warn_of_other_lengths,
    check_event_lengths,
    check_series,
    check_usual_use,
    check_usage_days,
    check_withdrawn,
    check_stock,
    check_prices,
    check_corrected,
)

__all__ = [
    "FILL_EMPTY",
    "LAYOUTS",
    "REFUSE_ALL",
    "RULES",
    "Answer",
    "Column",
    "Difference",
    "Differing",
    "FileSet",
    "FilesRefused",
    "Finding",
    "Findings",
    "Layout",
    "RawTable",
    "UnusualRows",
    "check_files",
    "counts",
    "depots_to_make",
    "named",
    "one_moment",
    "pick_files",
    "quiet",
    "read_folder",
    "refuse_early_ends",
    "refuse_reason_without_day",
    "short",
    "store_files",
    "write_file",
]
