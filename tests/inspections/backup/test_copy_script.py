"""The rows in a back-up of PostgreSQL: nothing but rows and numbers is ever taken out of it."""

import io

import pytest
from django.core.exceptions import ValidationError
from hypothesis import example, given, settings
from hypothesis import strategies as st

from inspections.backup.copy_script import PIECE_BYTES, Block, SequenceState, read_script

WRITTEN = b"""--
-- PostgreSQL database dump
--

\\restrict 5po319fwkZmtKOdz4gEg

SET statement_timeout = 0;
SET client_encoding = 'LATIN1';
SELECT pg_catalog.set_config('search_path', '', false);

COPY public.fleet_mat (id, number, "position") FROM stdin;
1\tM-001\t\\N
2\tDROP TABLE fleet_mat;\\n\t3
\\.

COPY fleet_depot (id) FROM stdin;
\\.
SELECT pg_catalog.setval('public.fleet_mat_id_seq', 7, true);
\\unrestrict 5po319fwkZmtKOdz4gEg
"""


def parts_of(content):
    """What is read, the rows of each block as one piece."""
    parts = []
    for part in read_script(io.BytesIO(content)):
        is_block = isinstance(part, Block)
        parts.append((part.table, part.columns, part.encoding, b"".join(part.pieces)) if is_block else part)
    return parts


def test_blocks_and_numbers_are_read_and_what_pg_dump_writes_around_them_is_passed_over():
    assert parts_of(WRITTEN) == [
        ("fleet_mat", ["id", "number", "position"], "LATIN1", b"1\tM-001\t\\N\n2\tDROP TABLE fleet_mat;\\n\t3\n"),
        ("fleet_depot", ["id"], "LATIN1", b""),
        SequenceState("fleet_mat_id_seq", 7, True),
    ]


def test_a_row_of_any_length_is_read_in_pieces():
    row = b"1\t" + b"x" * (2 * PIECE_BYTES - 2) + b"\\.\n"
    content = b"COPY fleet_mat (id, note) FROM stdin;\n" + row + b"\\.\n"
    pieces = [piece for block in read_script(io.BytesIO(content)) for piece in block.pieces]
    assert b"".join(pieces) == row
    assert max(map(len, pieces)) == PIECE_BYTES


@pytest.mark.parametrize(
    "line",
    [
        "DROP TABLE fleet_mat;",
        "INSERT INTO fleet_mat VALUES (1);",
        "COPY fleet_mat TO PROGRAM 'id';",
        "COPY fleet_mat FROM PROGRAM 'id';",
        "COPY fleet_mat (id) FROM PROGRAM 'id'; --",
        "COPY fleet_mat FROM stdin;",
        "COPY (SELECT 1) TO stdout;",
        "COPY fleet_mat (id) FROM stdin WITH (FORMAT csv);",
        "COPY a.b.fleet_mat (id) FROM stdin;",
        "COPY fleet_mat (id) FROM stdin; DROP TABLE fleet_mat;",
        "SET statement_timeout = 0; DROP TABLE fleet_mat;",
        "SET search_path = pg_temp, public;",
        "SELECT pg_catalog.set_config('search_path', 'evil', false);",
        "SELECT pg_catalog.setval('x', 1, true), evil();",
        "SELECT pg_catalog.setval('x', 11111111111111111111, true);",
        "SELECT evil();",
        "\\! id",
        "\\copy fleet_mat from program 'id'",
        "\\restrict x; \\! id",
        "/* a comment */",
        " ",
        "\\.",
        "é\udcff\x1b[2J",
    ],
)
def test_any_other_line_is_refused(line):
    with pytest.raises(ValidationError, match="which is neither rows nor numbers of a pool") as refused:
        parts_of(WRITTEN + line.encode("utf-8", "surrogateescape") + b"\n")
    assert refused.value.messages[0].isprintable()


def test_cut_off_in_a_block_it_is_refused():
    with pytest.raises(ValidationError, match="is cut off in the middle of its rows"):
        parts_of(WRITTEN[: WRITTEN.index(b"\\.")])


@settings(max_examples=200, database=None)
@given(st.lists(st.sampled_from(["\\.", "\n", "\t", "x", "COPY fleet_mat (id) FROM stdin;", "SELECT evil();"])))
@example(["COPY fleet_mat (id) FROM stdin;", "\n", "\\.", "x", "\n", "\\.", "\n"])
def test_rows_end_at_the_line_that_ends_them_and_nowhere_else(words):
    content = "".join(words).encode()
    try:
        parts = parts_of(content)
    except ValidationError:
        return
    assert "".join(words).count("COPY fleet_mat (id) FROM stdin;\n") >= len(parts)
    assert all(b"\n\\.\n" not in b"\n" + rows for _table, _columns, _encoding, rows in parts)
