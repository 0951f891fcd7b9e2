"""Cables of a batch, batches, and lots."""

import django_tables2 as tables

from ..tables import PlainTable, template_cell


class CableTable(PlainTable):
    """Rows: `BatchCable`, newest first; on paper in the order of their numbers."""

    number = tables.Column("Cable", attrs={"cell": {"class": "num at-lead strong"}})
    value = template_cell("batches/_value_cell.html", "Value", "num at-end nowrap")
    answer = template_cell("batches/_answer_cell.html", "Answer", "bare")
    loss = template_cell("batches/_loss_cell.html", "Reference loss, dB", "num")
    serial = template_cell("batches/_serial_cell.html", "Serial", "bare")
    actions = template_cell("batches/_cable_actions.html", "Actions", "bare nowrap screen")

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Cables of this batch"}

    def __init__(self, page, *, may_bench, on_paper=False):
        self.batch = page.batch
        rows = page.cables[::-1] if on_paper else page.cables
        left_out = () if may_bench and not page.batch.ended_on and not on_paper else ("actions",)
        if not any(cable.serial for cable in page.cables):
            left_out += ("serial",)
        super().__init__(rows, exclude=left_out)


class BatchTable(tables.Table):
    """Rows: `BatchPage`."""

    number = template_cell("batches/_batch_cell.html", "Batch", "at-lead nowrap", accessor="batch")
    kind = template_cell("batches/_kind_cell.html", "Cables", "bare", accessor="batch")
    measured_on = tables.DateColumn(
        accessor="batch__measured_on", format="j M Y", verbose_name="Measured", attrs={"cell": {"class": "nowrap"}}
    )
    fit = tables.Column("Fit", attrs={"cell": {"class": "num"}})
    unfit = tables.Column("Not", attrs={"cell": {"class": "num"}})
    again = tables.Column("To measure again", attrs={"cell": {"class": "num"}})
    state = template_cell("batches/_state_cell.html", "State", "at-end nowrap", accessor="batch")

    class Meta:
        attrs = {"aria-label": "Batches"}
        orderable = False


class LotTable(PlainTable):
    """Rows: `LotCounts`."""

    lot = template_cell("batches/_lot_cell.html", "Lot", "at-lead")
    kind = template_cell("batches/_kind_cell.html", "Cables", "bare")
    batches = template_cell("batches/_lot_batches_cell.html", "Batches", "bare")
    fit = tables.Column("Fit", attrs={"cell": {"class": "num"}})
    unfit = tables.Column("Not", attrs={"cell": {"class": "num"}})
    again = tables.Column("To measure again", attrs={"cell": {"class": "num"}})
    median = template_cell("batches/_median_cell.html", "Median and spread, dB", "num at-end nowrap")

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Lots"}
