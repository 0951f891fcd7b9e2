"""Files in and out of the whole pool: the fleet's files, and instruments, measurements and policy beside them."""

from ..files.loading import check_pool_files, load_pool_files
from ..files.saving import export_folder, export_zip
from ..files.sets import FILE_NAMES, LAYOUTS
from ..files.uploads import TooLarge, check_size, discard, keep_upload, waiting_files

__all__ = [
    "FILE_NAMES",
    "LAYOUTS",
    "TooLarge",
    "check_pool_files",
    "check_size",
    "discard",
    "export_folder",
    "export_zip",
    "keep_upload",
    "load_pool_files",
    "waiting_files",
]
