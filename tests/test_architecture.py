"""The arrows of DEVELOPERS.md: what may import what. Imports inside functions count too."""

import ast
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
# Left to right: each may import what stands to its left, or beside it. All of fleet stands left of inspections.
# A module's layer is the first of these words in its path, alone or behind an underscore (`reading_views`).
LAYERS = (
    (
        "numeric",
        "choices",
        "access",
        "months",
        "figures",
        "remarks",
        "steps",
        "static_files",
        "durable_files",
        "data_folder",
        "owner_only",
        "zip_entries",
        "photo_files",
        "sweep_files",
        "storage_failures",
    ),
    ("validators", "limits"),
    ("models", "signals", "axes"),
    ("parsing",),
    ("selectors",),
    ("services",),
    ("charts", "chart", "forms", "tables", "intake", "session", "templatetags", "context"),
    ("views", "management"),
    ("urls",),
    ("project", "apps"),
)
APPS = ("fleet", "inspections")
# Left to right: a room of inspections imports only rooms to its left.
ROOMS = (
    "assessment",
    "bench",
    "batches",
    "sampling",
    "sweeps",
    "policy",
    "trend",
    "due",
    "pool_life",
    "length_limits",
    "rule_trial",
    "limit_card",
    "digest",
    "workshop",
    "buying",
    "rule_cost",
    "calendar",
    "records",
    "labels",
    "deleting",
    "start",
    "workbooks",
    "files",
    "own_sheets",
    "backup",
    "demo",
    "pages",
)
FILES = (
    *("static_files", "durable_files", "data_folder", "owner_only", "zip_entries", "photo_files", "sweep_files"),
    "storage_failures",
)
# What every room stands on: it knows no room.
GROUND = ("numeric", "models", "choices", "validators", "limits", "axes", "tables", "received_views", *FILES)
# Modules of a room that say what they hold instead of their layer: that of the room, or of the module by its name.
LAYER_OF_ROOM = {"assessment": "services", "files": "intake", "backup": "services", "demo": "services"}
LAYER_OF_ROOM |= {"workbooks": "parsing", "own_sheets": "intake"}
LAYER_OF_MODULE = {
    "assessment.columns": "selectors",
    "assessment.wear_columns": "selectors",
    "assessment.policy_in_force": "selectors",
    "assessment.reasons": "selectors",
    "assessment.assumptions": "selectors",
    "assessment.unfit": "selectors",
    "bench.verdicts": "selectors",
    "trend.summary": "services",
    "due.needed": "selectors",
    "due.depot_pages": "selectors",
    "due.report": "services",
    "workshop.sheets": "services",
    "workshop.printing": "views",
    "records.contents": "tables",
    "records.gaps": "tables",
    "records.ways": "tables",
    "records.printing": "views",
    "backup.existing_backups": "selectors",
}


def place_of(module):
    """(app, layer) by which modules are ordered; None for what is not ours, and for a package itself."""
    parts = module.split(".")
    while len(parts) > 1 and not (path := ROOT.joinpath(*parts)).is_dir() and not path.with_suffix(".py").is_file():
        parts.pop()  # a name inside a module
    if parts[0] not in APPS or len(parts) == 1:
        return None
    word = layer_word(".".join(parts))
    if word is None:
        assert ROOT.joinpath(*parts).is_dir(), f"{module} has no layer: name one in its path, or give it one above"
        return None
    return APPS.index(parts[0]), next(layer for layer, words in enumerate(LAYERS) if word in words)


def layer_word(module):
    _app, *names = module.split(".")
    room = room_of(module)
    if room and len(names) > 1 and ".".join(names) in LAYER_OF_MODULE:
        return LAYER_OF_MODULE[".".join(names)]
    inside = names[1:] if room else names
    words = [word for words in LAYERS for word in words]
    named = [end for name in inside for end in (name, name.rpartition("_")[2]) if end in words]
    return named[0] if named else LAYER_OF_ROOM.get(room) if inside else None


def room_of(module):
    names = module.split(".")
    return names[1] if names[0] == "inspections" and len(names) > 1 and names[1] in ROOMS else None


@cache
def our_files():
    files = [path for app in APPS for path in (ROOT / app).rglob("*.py") if "migrations" not in path.parts]
    return [path for path in files if path.read_text().strip()]


def module_of(path):
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


@cache
def imports_of(path):
    """What a module imports, inside functions too; read once for all who ask."""
    return list(_imports_of(path))


def _imports_of(path):
    package = module_of(path) if path.name == "__init__.py" else module_of(path).rpartition(".")[0]
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = package.split(".")[: len(package.split(".")) - node.level + 1] if node.level else []
            module = ".".join([*base, *filter(None, [node.module])])
            yield from (f"{module}.{alias.name}" for alias in node.names)


def test_imports_go_from_right_to_left_only():
    """What is found is said at once: {module: what it may not import}."""
    wrong = {}
    for path in our_files():
        place = place_of(module_of(path))
        imported = {name: place_of(name) for name in imports_of(path) if name.split(".")[0] in APPS}
        wrong[module_of(path)] = [name for name, other in imported.items() if other and other > place]
    assert {module: names for module, names in wrong.items() if names} == {}
    assert len(wrong) > 500


def test_rooms_import_rooms_to_their_left_only():
    wrong = {}
    for path in our_files():
        module, rooms = module_of(path), {name: room_of(name) for name in imports_of(path) if room_of(name)}
        if room := room_of(module):
            wrong[module] = [name for name, other in rooms.items() if ROOMS.index(other) > ROOMS.index(room)]
        elif "inspections" in path.parts and module.split(".")[1] in GROUND:
            wrong[module] = list(rooms)
    assert {module: names for module, names in wrong.items() if names} == {}
    assert len(wrong) > 300


def test_views_neither_query_nor_write():
    views = {module_of(path): path.read_text() for path in our_files() if layer_word(module_of(path)) == "views"}
    doing = (".objects", ".filter(", ".save(", ".bulk_create(", ".delete(")
    wrong = {module: [word for word in doing if word in text] for module, text in views.items()}
    assert {module: words for module, words in wrong.items() if words} == {}
    assert len(wrong) > 50


@pytest.mark.process
def test_numbers_need_no_django():
    numeric = sorted(module_of(path) for path in (ROOT / "inspections/numeric").rglob("*.py"))
    code = f"import sys; sys.path.insert(0, {str(ROOT)!r}); import {', '.join(numeric)}; print('django' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "False\n"


def test_numbers_read_no_clock():
    for path in (ROOT / "inspections/numeric").rglob("*.py"):
        assert not {"time", "datetime.datetime", "datetime.date"} & set(imports_of(path)), path.name


@pytest.mark.process
def test_top_level_holds_the_agreed_names_only():
    agreed = {"README.md", "DEVELOPERS.md", "manage.py", "fleet", "inspections", "templates", "static", "tests"}
    agreed |= {"requirements.txt"}
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout.split()
    names = {name.split("/")[0] for name in tracked}
    assert {name for name in names if not name.startswith(".")} <= agreed


def test_what_needs_a_browser_stands_in_one_folder():
    """Where `.ci/run` looks for it: elsewhere it would run in no job."""
    marked = {path for path in (ROOT / "tests").rglob("test_*.py") if f"mark.{'browser'}" in path.read_text("utf-8")}
    assert marked == set((ROOT / "tests/browser").rglob("test_*.py"))
