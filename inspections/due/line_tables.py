"""The due list by mat: drawn by one template as a whole, for one a cell takes longer than all that it says."""

from dataclasses import dataclass

import django_tables2 as tables

from ..assessment.assumptions import assumptions_of
from .line_selectors import by_status, due_lines, lines_of


class LineTable(tables.Table):
    """The rows of `due_list` by mat, grouped by status.

    `counts`: {status: StatusCount} of all pages; `kinds`: how many are to be changed now, by gravity.
    """

    class Meta:
        orderable = False
        template_name = "inspections/due/_lines.html"
        attrs = {"class": "table by-mat", "aria-label": "What is due, by mat"}

    def __init__(self, rows, *, on, may_bench, look_ahead_days, counts, kinds, policy):
        self.rows_asked, self.on, self.may_bench, self.counts = rows, on, may_bench, counts
        self.look_ahead_days, self.kinds, self.policy = look_ahead_days, kinds, policy
        super().__init__(due_lines(rows))

    @property
    def width(self):
        """Its columns."""
        return 6 + self.may_bench

    def before_render(self, request):
        """Reads the cables of the lines that this page shows, and what is assumed of them; of no others."""
        lines = lines_of((row.record for row in self.paginated_rows), self.rows_asked, self.on)
        self.assumptions = assumptions_of((row for line in lines for row in line.rows), self.on, self.policy)
        self.groups = by_status(lines, self.counts)


@dataclass(frozen=True)
class PaperLines:
    """The same of one depot on paper: `groups` as `by_status` gives them; nothing to choose and nothing to open."""

    groups: list
    assumptions: dict
    look_ahead_days: int
    width: int = 6
    on_paper: bool = True
