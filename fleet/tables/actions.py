"""The last column of a row: what may be done with it, on screen only."""

import django_tables2 as tables


def actions_column(template_name, css="bare screen"):
    """A column of links and buttons, for tables that leave it out (`exclude`) where nothing may be done."""
    return tables.TemplateColumn(
        template_name=template_name, verbose_name="Actions", orderable=False, attrs={"cell": {"class": css}}
    )
