"""The entry point sets itself up, in temporary copies of it that install small wheels made here: no network is used.

Times are of one slow machine: making a virtual environment takes 4 s, an installation by pip 1 to 2 s, a start that
finds everything in place 0.2 s. One environment is therefore made once and copied.
"""

import ast
import importlib.util
import os
import signal
import socket
import subprocess
import sysconfig
import time

import pytest
from entry_copies import ROOT, VENV_PYTHON, make_project, make_wheel, prefix_told, require, start, start_beside, write

pytestmark = pytest.mark.process


def break_base_link(project):
    python = project / ".venv" / "bin" / "python"
    python.unlink()
    python.symlink_to("/nowhere/python3")


def load_manage():
    spec = importlib.util.spec_from_file_location("manage_under_test", ROOT / "manage.py")
    manage = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(manage)
    return manage


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
