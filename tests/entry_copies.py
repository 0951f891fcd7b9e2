"""Copies of the entry point, each with a small Django project and wheels made here: no network is used."""

import os
import shutil
import subprocess
import sys
import sysconfig
import zipfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
BASE_PYTHON = getattr(sys, "_base_executable", sys.executable)
VENV_PYTHON = "Scripts/python.exe" if os.name == "nt" else "bin/python"
ENTRY = ("manage.py", "inspections/management/environment.py", "inspections/management/installing.py")

WHERE = """
import json, os, sys
from django.core.management.base import BaseCommand

class Command(BaseCommand):
    def add_arguments(self, parser):
        parser.add_argument("--wait", action="store_true")
        parser.add_argument("--exit-code", type=int, default=0)

    def handle(self, *, wait, exit_code, **options):
        print(sys.prefix, os.getcwd(), os.environ["DJANGO_SETTINGS_MODULE"], sep="\\n", flush=True)
        if wait:
            import time
            time.sleep(30)
        sys.exit(exit_code)
"""


def write(path, text=""):
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def make_wheel(folder, name, version="1.0", files=None):
    """A wheel is a zip file with three describing files, so none needs building."""
    folder.mkdir(parents=True, exist_ok=True)
    info = f"{name}-{version}.dist-info"
    contents = {
        **(files or {f"{name}.py": f"version = '{version}'\n"}),
        f"{info}/METADATA": f"Metadata-Version: 2.1\nName: {name}\nVersion: {version}\n",
        f"{info}/WHEEL": "Wheel-Version: 1.0\nGenerator: hand\nRoot-Is-Purelib: true\nTag: py3-none-any\n",
    }
    record = "".join(f"{path},,\n" for path in [*contents, f"{info}/RECORD"])
    with zipfile.ZipFile(folder / f"{name}-{version}-py3-none-any.whl", "w") as wheel:
        for path, text in {**contents, f"{info}/RECORD": record}.items():
            wheel.writestr(path, text)


def make_project(folder):
    """A copy of the entry point with a one-command Django project; Django and pytest are borrowed from this run."""
    assert ROOT not in [folder, *folder.parents]
    folder.mkdir(parents=True)
    for name in ENTRY:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(ROOT / name, folder / name)
    make_wheel(folder / "wheels", "borrowed", files={"borrowed.pth": sysconfig.get_path("purelib") + "\n"})
    make_wheel(folder / "wheels", "only_for_tests")
    require(folder, "borrowed")
    write(folder / "tests" / "requirements.txt", "only_for_tests\n")
    write(folder / "inspections" / "project" / "settings.py", "INSTALLED_APPS = ['inspections']\nSECRET_KEY = 'test'\n")
    write(folder / "inspections" / "management" / "commands" / "where.py", WHERE)
    return folder


def require(project, *lines):
    write(project / "requirements.txt", "\n".join(["--no-index", "--find-links wheels", *lines]) + "\n")


def environment(**changes):
    """Nothing of the machine's pip settings and of this test run's own environment reaches the copies."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("PIP_", "PYTHON", "DJANGO_"))}
    kept.pop("VIRTUAL_ENV", None)
    return {**kept, "PIP_CONFIG_FILE": os.devnull, "PIP_CACHE_DIR": "off", **changes}


def command_line(project, arguments, python):
    assert ROOT not in [project, *project.parents]
    return [str(python), str(project / "manage.py"), *arguments]


def start(project, *arguments, python=BASE_PYTHON, cwd=None, **changes):
    command = command_line(project, arguments, python)
    env = environment(**changes)
    return subprocess.run(command, cwd=cwd or project, env=env, capture_output=True, text=True, timeout=120)


def start_beside(project, *arguments, **options):
    command = command_line(project, arguments, BASE_PYTHON)
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True}
    return subprocess.Popen(command, cwd=project, env=environment(), **pipes, **options)


def prefix_told(result):
    assert result.returncode == 0, result.stderr
    return Path(result.stdout.splitlines()[0])
