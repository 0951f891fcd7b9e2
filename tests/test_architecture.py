"""The arrows of DEVELOPERS.md: what may import what. Imports inside functions count too."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
# Left to right: each may import what stands to its left, or beside it. All of fleet stands left of inspections.
LAYERS = (
    ("numeric", "choices", "access", "work_steps"),
    ("validators",),
    ("models", "signals"),
    ("selectors",),
    ("services",),
    ("charts", "forms", "tables", "intake", "templatetags"),
    ("views", "management"),
    ("urls",),
    ("project", "apps"),
)
APPS = ("fleet", "inspections")


def place_of(module):
    """(app, layer) by which modules are ordered; None for what is not ours."""
    parts = module.split(".")
    if parts[0] not in APPS or len(parts) == 1:
        return None
    for layer, names in enumerate(LAYERS):
        if parts[1] in names:
            return APPS.index(parts[0]), layer
    raise AssertionError(f"{module} stands in no layer: give it a room in LAYERS and in DEVELOPERS.md")


def our_files():
    files = [path for app in APPS for path in (ROOT / app).rglob("*.py") if "migrations" not in path.parts]
    return [path for path in files if path.read_text().strip()]


def module_of(path):
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imports_of(path):
    package = module_of(path) if path.name == "__init__.py" else module_of(path).rpartition(".")[0]
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = package.split(".")[: len(package.split(".")) - node.level + 1] if node.level else []
            module = ".".join([*base, *filter(None, [node.module])])
            yield from (f"{module}.{alias.name}" for alias in node.names)


@pytest.mark.parametrize("path", our_files(), ids=module_of)
def test_imports_go_from_right_to_left_only(path):
    place = place_of(module_of(path))
    imported = {name: place_of(name) for name in imports_of(path) if name.split(".")[0] in APPS}
    assert [name for name, other in imported.items() if other and other > place] == []


@pytest.mark.parametrize("path", [p for p in our_files() if "views" in p.parts], ids=module_of)
def test_views_neither_query_nor_write(path):
    text = path.read_text()
    assert [word for word in (".objects", ".filter(", ".save(", ".bulk_create(", ".delete(") if word in text] == []


def test_numbers_need_no_django():
    numeric = sorted(module_of(path) for path in (ROOT / "inspections/numeric").glob("*.py"))
    code = f"import sys; sys.path.insert(0, {str(ROOT)!r}); import {', '.join(numeric)}; print('django' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "False\n"


def test_numbers_read_no_clock():
    for path in (ROOT / "inspections/numeric").glob("*.py"):
        assert not {"time", "datetime.datetime", "datetime.date"} & set(imports_of(path)), path.name


def test_top_level_holds_the_agreed_names_only():
    agreed = {"README.md", "DEVELOPERS.md", "manage.py", "fleet", "inspections", "templates", "static", "tests"}
    agreed |= {"requirements.txt"}
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout.split()
    names = {name.split("/")[0] for name in tracked}
    assert {name for name in names if not name.startswith(".")} <= agreed
