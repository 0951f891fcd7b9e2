"""The back-up file itself: whatever happens to it, nobody gets other bytes back than went in."""

import io
import json
import zipfile
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from django.core.exceptions import ValidationError
from hypothesis import example, given, settings
from hypothesis import strategies as st

from inspections.backup.archive import Manifest, opened, write_archive

WRITTEN = {
    "database.sqlite3": b"SQLite format 3\0" + bytes(range(256)) * 40,
    "files/sweeps/a.s2p": b"! 0.5 m\n" * 300,
    "files/sweeps/aa/empty.s2p": b"",
}
FEW = settings(max_examples=150, database=None)


def content_of_an_archive():
    with TemporaryDirectory() as folder:
        for name, content in WRITTEN.items():
            source = Path(folder, name)
            source.parent.mkdir(parents=True, exist_ok=True)
            source.write_bytes(content)
        manifest = Manifest("2026-09-30T18:04:00+02:00", "sqlite", [["fleet", "0001_initial"]])
        members = [(name, Path(folder, name)) for name in [*WRITTEN, "files/sweeps/gone"]]
        write_archive(Path(folder, "pool.zip"), manifest, members)
        return Path(folder, "pool.zip").read_bytes()


ARCHIVE = content_of_an_archive()


def unpacked(content):
    """{name: bytes} of what comes out; None when it is refused."""
    with TemporaryDirectory() as folder:
        path, target = Path(folder, "pool.zip"), Path(folder, "unpacked")
        path.write_bytes(content)
        try:
            with opened(path) as archive:
                archive.unpack(target)
        except ValidationError as refusal:
            assert refusal.messages[0].endswith("Nothing was restored.")
            return None
        return {file.relative_to(target).as_posix(): file.read_bytes() for file in target.rglob("*") if file.is_file()}


def test_what_went_in_comes_out_without_the_file_that_was_gone():
    assert unpacked(ARCHIVE) == WRITTEN


@FEW
@given(st.integers(0, len(ARCHIVE) - 1))
def test_cut_off_anywhere_it_is_refused(length):
    assert unpacked(ARCHIVE[:length]) is None


@FEW
@given(st.integers(0, len(ARCHIVE) - 1), st.integers(1, 255))
@example(ARCHIVE.rindex(b"PK\x05\x06") + 18, 1)  # where the list of members begins: leads before the beginning
@example(ARCHIVE.index(b"PK\x01\x02") + 10, 4)  # how the first member is packed
def test_with_a_byte_changed_anywhere_it_is_refused_or_gives_the_very_same(place, change):
    content = bytearray(ARCHIVE)
    content[place] ^= change
    assert unpacked(bytes(content)) in (None, WRITTEN)


@FEW
@given(st.binary(max_size=400), st.booleans())
def test_any_bytes_are_refused_in_a_sentence(content, like_a_zip):
    assert unpacked((b"PK\x03\x04" if like_a_zip else b"") + content) is None


def with_manifest(text):
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(ARCHIVE)) as old, zipfile.ZipFile(stream, "w") as new:
        for name in WRITTEN:
            new.writestr(name, old.read(name))
        new.writestr("manifest.json", text)
    return stream.getvalue()


@pytest.mark.parametrize("manifest", ["[]", "3", "null", "{}", '{"format": 1}', '{"made_at": "x"}', "{", "\udcff"])
def test_a_manifest_of_somebody_else_is_refused(manifest):
    assert unpacked(with_manifest(manifest.encode("utf-8", "surrogateescape"))) is None


@pytest.mark.parametrize(
    "changed",
    [
        {"format": True}, {"format": 1.0}, {"format": "1"}, {"format": None}, {"database": ["sqlite"]}, {"database": 1},
        {"made_at": "2026-09-30T18:04:00"}, {"made_at": 0}, {"made_at": None}, {"migrations": ["ab"]},
        {"migrations": {"fleet": "0001_initial"}}, {"migrations": "ab"}, {"migrations": [["fleet", 1]]},
        {"migrations": [["fleet", "0001_initial", "x"]]}, {"migrations": None}, {"members": []}, {"more": 1},
    ],
    ids=str,
)  # fmt: skip
def test_a_manifest_is_of_our_types(changed):
    with zipfile.ZipFile(io.BytesIO(ARCHIVE)) as archive:
        manifest = json.loads(archive.read("manifest.json"))
    assert unpacked(with_manifest(json.dumps(manifest))) == WRITTEN
    assert unpacked(with_manifest(json.dumps(manifest | changed))) is None


@pytest.mark.parametrize("stated", [{"bytes": True}, {"bytes": 0.0}, {"bytes": "0"}, {"sha256": 0}, {"sha256": "E3"}])
def test_a_manifest_states_sizes_and_checksums_as_we_write_them(stated):
    with zipfile.ZipFile(io.BytesIO(ARCHIVE)) as archive:
        manifest = json.loads(archive.read("manifest.json"))
    manifest["members"]["files/sweeps/aa/empty.s2p"] |= stated
    assert unpacked(with_manifest(json.dumps(manifest))) is None
