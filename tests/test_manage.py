"""The entry point sets itself up, in temporary copies of it that install small wheels made here: no network is used.

Times are of one slow machine: making a virtual environment takes 4 s, an installation by pip 1 to 2 s, a start that
finds everything in place 0.2 s. One environment is therefore made once and copied.
"""

import ast
import importlib.util
import os
import shutil
import signal
import socket
import subprocess
import sys
import sysconfig
import time
import zipfile
from pathlib import Path

import pytest

from inspections.management.installing import STAMP

pytestmark = pytest.mark.process
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


@pytest.fixture(scope="module", autouse=True)
def real_venv_is_left_alone():
    def look():
        venv = ROOT / ".venv"
        return [(path.name, path.stat().st_mtime_ns) for path in [venv, *sorted(venv.glob("*"))] if path.exists()]

    before = look()
    yield
    assert look() == before


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


def break_base_link(project):
    python = project / ".venv" / "bin" / "python"
    python.unlink()
    python.symlink_to("/nowhere/python3")


def load_manage():
    spec = importlib.util.spec_from_file_location("manage_under_test", ROOT / "manage.py")
    manage = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(manage)
    return manage


@pytest.fixture(scope="module")
def first_start(tmp_path_factory):
    """7 s: two at once make the environment that the other tests copy, install, start afresh."""
    project = make_project(tmp_path_factory.mktemp("first") / "a folder with spaces")
    processes = [start_beside(project, "where") for _ in range(2)]
    told = [process.communicate(timeout=120) for process in processes]
    return project, [
        subprocess.CompletedProcess(process.args, process.returncode, *said)
        for process, said in zip(processes, told, strict=True)
    ]


@pytest.fixture
def copied(first_start, tmp_path):
    """A folder of the test's own, 0.5 s to copy; its next start notices that it has moved."""
    return Path(shutil.copytree(first_start[0], tmp_path / "project", symlinks=True))


@pytest.fixture
def project(first_start, copied):
    """The same with everything in place, as its own first start would leave it."""
    stamp = copied / ".venv" / STAMP.name
    write(stamp, stamp.read_text().replace(str(first_start[0]), str(copied)))
    return copied


# Making .venv and going on inside it


def test_first_start_makes_a_venv_beside_itself_and_runs_the_command_in_it(first_start):
    project, results = first_start
    for result in results:
        assert prefix_told(result) == project / ".venv"
        assert result.stdout.splitlines()[1:] == [str(project), "inspections.project.settings"]


def test_second_start_installs_nothing_and_says_nothing(first_start):
    project, _ = first_start
    second = start(project, "where")
    assert prefix_told(second) == project / ".venv"
    assert second.stderr == ""


def test_a_django_of_the_system_does_not_keep_it_out_of_its_venv(first_start):
    project, _ = first_start
    with_django = start(project, "where", PYTHONPATH=sysconfig.get_path("purelib"))
    assert prefix_told(with_django) == project / ".venv"


def test_without_a_command_it_prints_the_help(first_start):
    helped = start(first_start[0])
    assert helped.returncode == 0
    assert "Available subcommands" in helped.stdout


def test_a_command_sees_the_folder_it_was_started_from_and_passes_its_exit_code_on(first_start, tmp_path):
    result = start(first_start[0], "where", "--exit-code", "7", cwd=tmp_path)
    assert result.returncode == 7
    assert result.stdout.splitlines()[1] == str(tmp_path)


@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
def test_ctrl_c_ends_it_without_a_traceback(first_start):
    with start_beside(first_start[0], "where", "--wait") as process:
        process.stdout.readline()
        process.send_signal(signal.SIGINT)
        _, errors = process.communicate(timeout=20)
    assert process.returncode == 130
    assert errors == ""


def test_two_starts_at_once_both_succeed_and_one_installs(first_start):
    _, results = first_start
    assert [result.returncode for result in results] == [0, 0], results
    assert sum(result.stderr.count("Installing requirements.txt") for result in results) == 1
    assert sum(result.stderr.count("Making the virtual environment") for result in results) == 1


# When something changed or broke


def test_changed_requirements_are_installed(project):
    make_wheel(project / "wheels", "later_need")
    require(project, "borrowed", "later_need")
    assert "Installing requirements.txt" in start(project, "where").stderr
    assert start(project, "where").stderr == ""
    assert subprocess.call([project / ".venv" / VENV_PYTHON, "-c", "import later_need"]) == 0


def test_a_moved_folder_is_set_up_again_and_works(project):
    moved = project.rename(project.with_name("moved"))
    again = start(moved, "where")
    assert prefix_told(again) == moved / ".venv"
    assert "Installing requirements.txt" in again.stderr
    assert start(moved, "where").stderr == ""


def test_a_killed_installation_is_done_again(project):
    make_wheel(project / "wheels", "half_done")
    before = (project / "requirements.txt").read_text()
    require(project, "borrowed", "half_done")
    with start_beside(project, "where", start_new_session=True) as process:
        assert "Installing" in process.stderr.readline()
        os.killpg(process.pid, signal.SIGKILL)
    write(project / "requirements.txt", before)
    again = start(project, "where")
    assert prefix_told(again) == project / ".venv"
    assert "Installing requirements.txt" in again.stderr


@pytest.mark.skipif(os.name == "nt", reason="Windows copies its Python and has no such link")
@pytest.mark.parametrize("damage", [break_base_link, lambda project: (project / ".venv" / "pyvenv.cfg").unlink()])
def test_a_venv_that_lost_its_python_or_its_settings_is_made_anew(copied, damage):
    """7 s each: the environment is cleared, made and filled again."""
    damage(copied)
    repaired = start(copied, "where")
    assert prefix_told(repaired) == copied / ".venv"
    assert "is broken; making it anew" in repaired.stderr
    assert start(copied, "where").stderr == ""


def test_a_venv_whose_packages_were_deleted_by_hand_is_named_as_broken(project):
    next((project / ".venv").rglob("borrowed.pth")).unlink()
    result = start(project, "where")
    assert result.returncode == 1
    assert f"The virtual environment {project / '.venv'} is broken" in result.stderr
    assert "Traceback" not in result.stderr


# Somebody else's environment


@pytest.fixture
def foreign_python(first_start):
    return first_start[0] / ".venv" / VENV_PYTHON


def test_an_active_foreign_venv_is_told_what_it_lacks_and_stays_as_it_is(foreign_python, tmp_path):
    project = make_project(tmp_path / "project")
    require(project, "borrowed>=2  # too old here", "not-there~=1.0", "Django", "old-only; python_version < '3'")
    result = start(project, "where", python=foreign_python)
    assert result.returncode == 1
    assert "lacks: borrowed>=2, not-there~=1.0\n" in result.stderr
    assert f"-m pip install -r {project / 'requirements.txt'}\n" in result.stderr
    assert not (project / ".venv").exists()


def test_an_active_foreign_venv_that_lacks_nothing_is_used(foreign_python, tmp_path):
    project = make_project(tmp_path / "project")
    assert prefix_told(start(project, "where", python=foreign_python)) == foreign_python.parent.parent
    assert "lacks: only_for_tests\n" in start(project, "test", python=foreign_python).stderr
    assert not (project / ".venv").exists()


def test_the_active_venv_of_its_own_is_kept_up_to_date(project):
    make_wheel(project / "wheels", "later_need")
    require(project, "borrowed", "later_need")
    result = start(project, "where", python=project / ".venv" / VENV_PYTHON)
    assert prefix_told(result) == project / ".venv"
    assert "Installing requirements.txt" in result.stderr


# The test command


def test_test_installs_both_files_and_passes_pytests_options_and_exit_code_through(copied, tmp_path):
    write(copied / "tests" / "test_two.py", "def test_chosen(): pass\ndef test_other(): assert False\n")
    chosen = start(copied, "test", "-k", "chosen", "--verbose", "-p", "no:django", cwd=tmp_path)
    assert chosen.returncode == 0, chosen.stdout
    assert "Installing requirements.txt and tests/requirements.txt" in chosen.stderr
    assert "\ntests/test_two.py::test_chosen PASSED" in chosen.stdout
    assert "1 passed, 1 deselected" in chosen.stdout
    failing = start(copied, "test", "-p", "no:django")
    assert failing.returncode == 1
    assert failing.stderr == ""
    assert start(copied, "where").stderr == ""


# What cannot work says so


def test_an_old_python_can_read_the_file_and_is_told_what_it_needs():
    source = (ROOT / "manage.py").read_text(encoding="utf-8")
    ast.parse(source, feature_version=(3, 6))
    with pytest.raises(SyntaxError):
        ast.parse("(walrus := 1)", feature_version=(3, 6))
    refuse_old_python = load_manage().refuse_old_python
    with pytest.raises(SystemExit, match=r"needs Python 3\.11 or newer; this is Python 3\.8\.10"):
        refuse_old_python((3, 8, 10, "final", 0))
    refuse_old_python((3, 11, 0, "final", 0))


def test_a_python_without_ensurepip_is_told_which_system_package_to_install(tmp_path):
    """Debian leaves ensurepip out; here Python's own start-up hook hides it."""
    project = make_project(tmp_path / "project")
    write(tmp_path / "hook" / "sitecustomize.py", "import sys\nsys.modules['ensurepip'] = None\n")
    result = start(project, "where", PYTHONPATH=str(tmp_path / "hook"))
    assert result.returncode == 1
    assert "sudo apt install python3-venv" in result.stderr
    assert not (project / ".venv").exists()


def test_a_refused_connection_is_told_as_no_network_within_a_minute(copied):
    """4 s: pip waits a little between its tries."""
    write(copied / "requirements.txt", "borrowed\nnothing-of-the-sort\n")
    result = start(copied, "where", PIP_INDEX_URL="http://127.0.0.1:9/simple")
    assert result.returncode == 1
    assert "No network: pip got no answer from the package index" in result.stderr
    assert "Traceback" not in result.stderr
    assert start(copied, "where", PIP_INDEX_URL="http://127.0.0.1:9/simple").returncode == 1


def test_an_index_that_never_answers_is_given_up_after_the_time_the_user_chose(copied):
    """4 s: two tries of one second; with none allowed pip would not say what went wrong."""
    write(copied / "requirements.txt", "borrowed\nnothing-of-the-sort\n")
    began = time.monotonic()
    with socket.create_server(("127.0.0.1", 0)) as silent:
        index = f"http://127.0.0.1:{silent.getsockname()[1]}/simple"
        result = start(copied, "where", PIP_INDEX_URL=index, PIP_DEFAULT_TIMEOUT="1", PIP_RETRIES="0")
    assert result.returncode == 1
    assert "No network" in result.stderr
    assert time.monotonic() - began < 20  # our own choice would take 30 s


def test_a_package_that_does_not_exist_is_not_blamed_on_the_network(copied):
    require(copied, "borrowed", "nothing-of-the-sort")
    result = start(copied, "where")
    assert result.returncode == 1
    assert "No network" not in result.stderr
    assert "No matching distribution found for nothing-of-the-sort" in result.stderr
    require(copied, "borrowed")
    assert prefix_told(start(copied, "where")) == copied / ".venv"
