"""What stays out because a cell cannot be read: its whole row, or all that stands below a heading."""

from collections import defaultdict


def what_hangs(sheets, making, origins):
    """{(sheet, row, column) of an unread cell: how many rows of its sheet stay out whole with it}.

    A row of which nothing else came in counts at the first of its unread cells; of a heading the rows below it that
    hold something in its column.
    """
    came = {(origin.sheet, origin.row) for rows in origins.values() for origin in rows}
    unread = defaultdict(list)
    for place in sorted(making.unread):
        unread[place[:2]].append(place)
    hanging = {}
    for rows in sheets:
        numbers = [row.number for row in rows]
        for number in numbers:
            if (rows.name, number) in unread and (rows.name, number) not in came:
                hanging[unread[rows.name, number][0]] = 1
        for place in unread.get((rows.name, rows.head), ()):
            below = sum(bool(rows.text(number, place[2])) for number in numbers if number > rows.head)
            hanging[place] = below
    return {place: count for place, count in hanging.items() if count}
