"""The lists of the register."""

import django_tables2 as tables

from ..models import CableSegment, CableType, Depot, DesignPosition, Fitting, MatDesign
from ..parsing.approximate_dates import fitted_in_words
from ..templatetags.lengths import length_unit
from .actions import actions_column
from .sorting import sorted_by


def _code_column(label):
    return tables.TemplateColumn(
        template_name="fleet/_code_cell.html", verbose_name=label, attrs={"cell": {"class": "at-lead"}}
    )


def _count(label, **kwargs):
    return tables.Column(label, attrs={"cell": {"class": "num", "data-name": label.lower()}}, **kwargs)


def _figure(label, css="num at-desk", unit=""):
    """The heading carries the unit; on the phone the unit stands behind the figure."""
    attrs = {"cell": {"class": css, "data-unit": unit, "data-name": label.split(",")[0].lower()}}
    return tables.TemplateColumn(template_name="fleet/_figure_cell.html", verbose_name=label, attrs=attrs)


def _length(label, css):
    attrs = {"class": css, "data-unit": lambda record: length_unit(record.length_is_estimated)}
    named = {"data-name": label.split(",")[0].lower()}
    return tables.TemplateColumn(
        template_name="fleet/_length_cell.html", verbose_name=label, attrs={"th": {"class": css}, "td": attrs | named}
    )


class SegmentTable(tables.Table):
    serial = _code_column("Cable")
    where = tables.TemplateColumn(
        template_name="fleet/_where_cell.html", verbose_name="Where", attrs={"cell": {"class": "at-end"}}
    )
    cable_type = tables.Column("Type", linkify=True, attrs={"cell": {"class": "bare"}})
    length_m = _length("Length,\u00a0m", "num")
    lot = tables.Column(default="", attrs={"cell": {"class": "at-desk"}})
    since = tables.Column("Fitted on", default="", attrs={"cell": {"class": "nowrap at-desk"}})
    as_new_loss_db = _figure("As-new loss,\u00a0dB")

    class Meta:
        model = CableSegment
        fields = ("serial", "where", "cable_type", "length_m", "lot", "since", "as_new_loss_db")
        attrs = {"aria-label": "Cables"}

    order_serial = sorted_by("serial")
    order_where = sorted_by("in_mat", "in_position", then=["serial"])
    order_cable_type = sorted_by("cable_type__name", then=["serial"])
    order_length_m = sorted_by("length_m", then=["serial"])
    order_lot = sorted_by("lot", then=["serial"])

    def render_since(self, value, record):
        return fitted_in_words(value, record.since_basis)

    order_since = sorted_by("since", then=["serial"])
    order_as_new_loss_db = sorted_by("as_new_loss_db", then=["serial"])


class DesignTable(tables.Table):
    code = _code_column("Design")
    position_count = _count("Positions")
    width_m = _figure("Width,\u00a0m", "num", "m")
    weight_kg = _figure("Weight,\u00a0kg", "num", "kg")
    mats_in_use = tables.Column("Mats in use", attrs={"cell": {"class": "num at-end"}})

    class Meta:
        model = MatDesign
        fields = ("code", "position_count", "width_m", "weight_kg", "mats_in_use")
        attrs = {"aria-label": "Mat designs"}

    order_width_m = sorted_by("width_m", then=["code"])
    order_weight_kg = sorted_by("weight_kg", then=["code"])


class CableTypeTable(tables.Table):
    name = _code_column("Cable type")
    db_per_m_400mhz = _figure("dB per m at 400\u00a0MHz")
    db_per_m_1000mhz = _figure("dB per m at 1000\u00a0MHz")
    velocity_factor = _figure("Velocity factor")
    bend_radius_mm = _figure("Bend radius,\u00a0mm")
    segments_in_use = tables.Column("Cables in use", attrs={"cell": {"class": "num at-end"}})

    class Meta:
        model = CableType
        fields = (
            "name",
            "db_per_m_400mhz",
            "db_per_m_1000mhz",
            "velocity_factor",
            "bend_radius_mm",
            "segments_in_use",
        )
        attrs = {"aria-label": "Cable types"}

    order_velocity_factor = sorted_by("velocity_factor", then=["name"])
    order_bend_radius_mm = sorted_by("bend_radius_mm", then=["name"])


class DepotTable(tables.Table):
    name = tables.TemplateColumn(
        template_name="fleet/_depot_cell.html", verbose_name="Depot", attrs={"cell": {"class": "at-lead wide"}}
    )
    mats_in_use = tables.Column("Mats in use", attrs={"cell": {"class": "num at-end"}})
    mail = tables.Column("Morning mail to", default="–", orderable=False, attrs={"cell": {"data-name": "mail"}})
    actions = actions_column("fleet/_depot_actions.html", "bare nowrap screen")

    class Meta:
        model = Depot
        fields = ("name", "mats_in_use", "mail", "actions")
        attrs = {"aria-label": "Depots"}

    def __init__(self, *args, may_keep, **kwargs):
        super().__init__(*args, exclude=() if may_keep else ("mail", "actions"), **kwargs)


class DesignPositionTable(tables.Table):
    """All positions of a design, in their order."""

    number = tables.Column("Position", attrs={"cell": {"class": "num at-lead strong"}})
    length_m = _length("Cable,\u00a0m", "num at-end")
    cable_type = tables.Column("Cable type", linkify=True, attrs={"cell": {"class": "bare wide"}})
    actions = actions_column("fleet/_position_actions.html")

    class Meta:
        model = DesignPosition
        fields = ("number", "length_m", "cable_type", "actions")
        attrs = {"aria-label": "Positions of this design"}
        orderable = False

    def __init__(self, rows, *, may_keep):
        super().__init__(rows, exclude=() if may_keep else ("actions",))


class FittingTable(tables.Table):
    """The fittings of a cable, one after another."""

    where = tables.TemplateColumn(template_name="fleet/_fitting_cell.html", attrs={"cell": {"class": "at-lead"}})
    fitted_on = tables.TemplateColumn(
        template_name="fleet/_fitted_cell.html", verbose_name="From", attrs={"cell": {"class": "at-end nowrap"}}
    )
    removed_on = tables.DateColumn(
        "j M Y", verbose_name="Until", default="current", attrs={"cell": {"class": "nowrap"}}
    )
    reason = tables.Column(
        "Why it was taken out", accessor="removal_reason", default="", attrs={"cell": {"class": "bare wide"}}
    )

    class Meta:
        model = Fitting
        fields = ("where", "fitted_on", "removed_on", "reason")
        attrs = {"aria-label": "Fittings of this cable"}
        orderable = False
