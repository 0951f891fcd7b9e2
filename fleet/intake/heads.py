"""Files of which several rows belong to one head, such as the lines of a work order: each row tells the same of it."""

import numpy as np


def head_model(layout):
    return layout.model._meta.get_field(layout.head).related_model


def first_of_heads(table, numbers):
    """Of these rows, the first one of each head."""
    codes = table.values[table.layout.head_code.name]
    first = {}
    for number in numbers.tolist():
        first.setdefault(codes[number], number)
    return np.array(list(first.values()), dtype=np.int64)


def refuse_unlike_heads(files, table):
    """What a row tells of its head is what the first row of that head tells."""
    code = table.layout.head_code
    if code is None:
        return
    for column in table.given:
        if column.of_head and column is not code:
            _refuse_unlike(files, table, code, column)


def _refuse_unlike(files, table, code, column):
    first = {}
    for row, head, value in list(table.rows(code.name, column.name)):
        line, said = first.setdefault(head, (table.lines[row], value))
        if value != said:
            expected = f"“{column.write(said)}”, as line {line} has it: all lines of {head} say the same"
            table.refuse(files.errors, row, column.name, f"“{column.write(value)}”", expected)


def new_heads(table, numbers, stored):
    """The first of these rows of each head whose code is not `stored`."""
    first = first_of_heads(table, numbers)
    codes = table.values[table.layout.head_code.name]
    return np.array([number for number in first.tolist() if codes[number] not in stored], dtype=np.int64)


def refuse_more_of_stored_heads(files, table):
    """A head is stored with all its rows, and takes no more; one that grows takes rows that tell of it as it is."""
    code = table.layout.head_code
    if code is None:
        return
    if table.layout.grows:
        _refuse_unlike_stored(files, table, code)
        return
    stored = set(files.stored_codes(head_model(table.layout)).values())
    for row, head in list(table.rows(code.name)):
        if head in stored and not table.existing[row]:
            expected = f"a {code.name} that is not stored yet: {head} is, and takes no more lines"
            table.refuse(files.errors, row, code.name, f"“{head}”", expected)


def _refuse_unlike_stored(files, table, code):
    layout = table.layout
    others = [column for column in table.given if column.of_head and column is not code]
    told = layout.values_of(layout.stored_rows(), [code, *others], at_a_time=10_000)
    stored = {head: values for head, *values in told}
    names = [column.name for column in others]
    for row, head, *values in list(table.rows(code.name, *names)):
        if head not in stored or table.existing[row]:
            continue
        for column, value, current in zip(others, values, stored[head], strict=True):
            if value != current:
                expected = f"“{column.write(current)}”, as stored of {head}; correct it on its page"
                table.refuse(files.errors, row, column.name, f"“{column.write(value)}”", expected)
