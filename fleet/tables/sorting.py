"""How a column sorts its list."""

from django.db.models import F


def sorted_by(*fields, then=()):
    """Sorts a column by these fields; rows without a value stand last either way. Those alike come by `then`."""

    def order(self, rows, is_descending):
        by = [F(field).desc(nulls_last=True) if is_descending else F(field).asc(nulls_last=True) for field in fields]
        return rows.order_by(*by, *then), True

    return order
