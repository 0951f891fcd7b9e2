"""The whole pool's files in: checked whole, stored whole."""

from django.db import transaction

from fleet.intake import REFUSE_ALL, check_files, quiet, store_files
from fleet.services.locks import hold_pool

from ..models import WorkOrder
from ..workshop.services import make_sheets
from .sets import LAYOUTS, RULES
from .work_orders import WORK_ORDERS


def check_pool_files(contents, *, on, differing=REFUSE_ALL, meant=False, progress=quiet):
    """What is in `{file name: bytes or RawTable}`, and what is wrong with it; nothing is stored."""
    return check_files(contents, LAYOUTS, RULES, on=on, differing=differing, meant=meant, progress=progress)


def load_pool_files(contents, *, by, on, differing=REFUSE_ALL, meant=False, confirmed="", progress=quiet):
    """Check the files and store what is new, in one transaction that has the pool to itself.

    `differing`: what becomes of rows that are stored with other values.

    Returns (checked set, Load or None). FilesRefused with the checked set when it has an error; UnusualRows when it has
    unusual values, unless they are `meant` whatever they are, or `confirmed` names exactly these.
    """
    with transaction.atomic():
        hold_pool()
        files = check_pool_files(contents, on=on, differing=differing, meant=meant, progress=progress)
        load = store_files(files, by=by, confirmed=confirmed, progress=progress)
        if load and files.table(WORK_ORDERS.file) is not None:
            make_sheets(WorkOrder.objects.filter(load=load), on=on)
        return files, load
