"""Static files as a start of the server collects them: one style sheet, hashed names, whole or not at all."""

import errno
import json
import os
import re
import threading
from pathlib import Path

import pytest
from django.contrib.staticfiles.storage import staticfiles_storage
from django.core.exceptions import ValidationError

from inspections import static_files
from inspections.management.starting import collect_for_this_start
from inspections.static_files import (
    SCRIPTS,
    collect_static_files,
    joined_script,
    joined_styles,
    parts_of_script,
)

ROOT = Path(__file__).parents[2]
SHEETS = ROOT / "static" / "css"
TEMPLATES = ROOT / "templates"
FOR_GOOD = "max-age=315360000, public, immutable"


@pytest.fixture
def empty_root(data_dir, settings):
    """An empty place to collect into."""
    settings.STATIC_ROOT = data_dir / "static"
    return settings.STATIC_ROOT


@pytest.fixture
def own_sheets(tmp_path, settings):
    """Two style sheets and a picture in place of all others."""
    (tmp_path / "css").mkdir()
    (tmp_path / "css" / "all.css").write_text('/* in order */\n@import "one.css";\n@import "two.css";\n')
    (tmp_path / "css" / "one.css").write_text('/* head\nof it */\n.one {\n  background: url("../sign.svg");\n}\n')
    (tmp_path / "css" / "two.css").write_text(".two {\n  color: red;\n}\n")
    (tmp_path / "sign.svg").write_text("<svg/>")
    settings.STATICFILES_DIRS = [tmp_path]
    settings.STATICFILES_FINDERS = ["django.contrib.staticfiles.finders.FileSystemFinder"]
    return tmp_path


def named_in(root):
    """{name in templates: hashed name} of what was collected."""
    return json.loads((root / "staticfiles.json").read_text())["paths"]


def linked_sheets(answer):
    return re.findall(r'<link rel="stylesheet" href="([^"]+)"', answer.content.decode())


def text_of(answer):
    # read to its end the client closes it, and leaves the connection of the test open
    return b"".join(answer.streaming_content).decode()


def test_pages_and_pages_for_paper_link_the_same_one_sheet_that_is_kept_for_good(keeper_client, examples):
    order = examples["work-orders", "number"]
    links = [linked_sheets(keeper_client.get(path)) for path in ("/", f"/work-orders/{order}/", "/due/print/")]
    # what names the order stands in a sheet beside it
    assert links[1].pop() == f"/work-orders/{order}/foot.css"
    assert links[0] == links[1] == links[2]
    (link,) = links[0]
    assert re.fullmatch(r"/static/css/all\.[0-9a-f]{12}\.css", link)
    answer = keeper_client.get(link)
    assert answer["Cache-Control"] == FOR_GOOD
    assert text_of(answer) == joined_styles()


def test_scripts_have_hashed_names_too(client, keeper):
    scripts = re.findall(r'<script src="([^"]+)"', client.get("/sign-in/").content.decode())
    assert scripts
    for script in scripts:
        assert re.fullmatch(r"/static/.+\.[0-9a-f]{12}\.js", script)
        answer = client.get(script)
        assert answer["Cache-Control"] == FOR_GOOD
        assert text_of(answer)


def test_every_style_sheet_stands_once_in_the_joined_one():
    listed = re.findall(r'@import "(.+)";', (SHEETS / "all.css").read_text())
    assert sorted(["all.css", *listed]) == sorted(sheet.name for sheet in SHEETS.iterdir())
    assert "@import" not in joined_styles()


def test_every_page_has_one_script_and_with_debug_its_parts(keeper_client, settings):
    def scripts():
        return re.findall(r'<script src="/static/js/([^"]+)"', keeper_client.get("/policy/").content.decode())

    (joined,) = scripts()
    assert re.fullmatch(r"all_page\.[0-9a-f]{12}\.js", joined)
    settings.DEBUG = True
    assert [f"js/{part}" for part in scripts()] == parts_of_script("page")


@pytest.mark.parametrize("name", SCRIPTS)
def test_a_joined_script_holds_its_parts_in_order_without_remarks(name):
    joined = joined_script(name)
    lines = [line for part in parts_of_script(name) for line in (ROOT / "static" / part).read_text().splitlines()]
    code = [line for line in lines if line.strip() and not line.lstrip().startswith("//")]
    assert [line for line in joined.splitlines() if line.strip()] == code


def test_pages_with_parts_to_fetch_and_no_others_bring_the_script_for_it():
    """Templates with hx-… attributes are pages that include it, or parts of one that does."""
    pages = [path for path in TEMPLATES.rglob("*.html") if '"base.html"' in path.read_text()]
    fetching = {path.name for path in pages if re.search(r"\bhx-(get|post)=", with_parts(path))}
    bringing = {path.name for path in pages if "includes/_htmx.html" in path.read_text()}
    assert fetching == bringing != set()


def with_parts(path):
    """The text of a template and of those it includes."""
    text = path.read_text()
    return text + "".join(with_parts(TEMPLATES / name) for name in re.findall(r'include "([^"]+)"', text))


def test_joining_keeps_every_rule_in_order_and_leaves_remarks_behind(own_sheets):
    assert joined_styles() == '.one {\n  background: url("../sign.svg");\n}\n.two {\n  color: red;\n}\n'


def test_a_file_that_a_sheet_names_is_found_under_its_hashed_name(own_sheets, empty_root):
    collect_static_files()
    named = named_in(empty_root)
    sheet = (empty_root / named["css/all.css"]).read_text()
    (picture,) = re.findall(r'url\("\.\./(.+)"\)', sheet)
    assert picture == named["sign.svg"] != "sign.svg"
    assert (empty_root / picture).read_text() == "<svg/>"


def test_every_file_that_a_template_names_is_collected():
    texts = [path.read_text() for path in (ROOT / "templates").rglob("*.html")]
    named = {name for text in texts for name in re.findall(r"{% static '([^']+)' %}", text)}
    assert "css/all.css" in named
    assert sorted(name for name in named if name not in staticfiles_storage.hashed_files) == []


def test_a_page_comes_without_its_look_where_nothing_was_collected(client, keeper, empty_root):
    empty_root.mkdir()
    answer = client.get("/sign-in/")
    assert answer.status_code == 200
    assert linked_sheets(answer) == ["/static/css/all.css"]


def test_several_starts_at_once_leave_one_whole_collection(empty_root):
    refused = []

    def start():
        try:
            collect_for_this_start()
        except Exception as error:
            refused.append(error)

    starts = [threading.Thread(target=start) for _ in range(3)]
    for thread in starts:
        thread.start()
    for thread in starts:
        thread.join()
    assert refused == []
    assert [name for name in named_in(empty_root).values() if not (empty_root / name).is_file()] == []
    assert sorted(path.name for path in empty_root.parent.iterdir()) == ["starting.lock", "static"]


@pytest.mark.parametrize("moves", [0, 1, 8])
def test_a_start_that_dies_half_way_leaves_what_was_there_whole(own_sheets, empty_root, monkeypatch, moves):
    collect_static_files()
    before = named_in(empty_root)
    sheet = (empty_root / before["css/all.css"]).read_text()
    (own_sheets / "css" / "two.css").write_text(".two {\n  color: blue;\n}\n")
    left = iter(range(moves))

    def die_after_some(source, target, move=os.replace):
        if next(left, None) is None or Path(target).name == "staticfiles.json":
            raise KeyboardInterrupt
        move(source, target)

    with monkeypatch.context() as patch, pytest.raises(KeyboardInterrupt):
        patch.setattr("inspections.static_files.os.replace", die_after_some)
        collect_static_files()
    assert named_in(empty_root) == before
    assert (empty_root / before["css/all.css"]).read_text() == sheet
    collect_static_files()
    assert "color: blue" in (empty_root / named_in(empty_root)["css/all.css"]).read_text()


def test_what_a_dead_start_left_behind_is_not_taken_over(own_sheets, empty_root):
    draft = empty_root.with_name(".static")
    (draft / "css").mkdir(parents=True)
    (draft / "css" / "all.css").write_text(".on")
    (draft / "sign.svg").write_text("<sv")
    collect_static_files()
    assert (empty_root / named_in(empty_root)["sign.svg"]).read_text() == "<svg/>"
    assert not draft.exists()


def test_what_a_page_of_the_version_before_links_stays(own_sheets, empty_root):
    collect_static_files()
    before = named_in(empty_root)["css/all.css"]
    (own_sheets / "css" / "two.css").write_text(".two {\n  color: blue;\n}\n")
    collect_static_files()
    assert named_in(empty_root)["css/all.css"] != before
    assert "color: red" in (empty_root / before).read_text()


def test_a_full_disk_is_said_in_a_sentence(empty_root, monkeypatch):
    def full(*args, **kwargs):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(static_files, "call_command", full)
    with pytest.raises(ValidationError, match=r"No space left on device.*free some space on the disk"):
        collect_for_this_start()


def test_with_debug_a_browser_gets_each_sheet_as_it_lies_there(client, keeper, settings):
    settings.DEBUG = True
    assert linked_sheets(client.get("/sign-in/")) == ["/static/css/all.css"]
    for sheet in SHEETS.iterdir():
        assert text_of(client.get(f"/static/css/{sheet.name}")) == sheet.read_text()
