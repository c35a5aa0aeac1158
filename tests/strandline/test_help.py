"""The overview, its speed, and what the command says where OpenCV cannot be loaded."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator

import click
import pytest
from click.shell_completion import BashComplete

from strandline.__main__ import COMMANDS, cli
from strandline.shared.messages import cannot_load
from strandline.shared.options import UNITS
from strandline.shared.photo_options import LAYOUTS, MARKERS, STATES
from suspension.quantities.lengths import Units
from suspension.stroke.leg import Layout, State
from suspension.stroke.marker import MarkerKind
from tests.helpers.loaded_modules import HEAVY, ROOMS, modules_after
from tests.helpers.made_readings import run
from vision.reading import Layout as ReadLayout


def test_overview_imports_click_and_nothing_heavy() -> None:
    modules = modules_after("--help")
    assert "click" in modules
    assert not modules & (HEAVY | ROOMS)


@pytest.mark.parametrize("name", COMMANDS)
def test_help_of_a_command_imports_nothing_heavy(name: str) -> None:
    assert not modules_after(name, "--help") & (HEAVY | ROOMS)


def test_python_m_runs_the_same() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "strandline", "--help"], capture_output=True, text=True, check=True
    )
    assert "Usage: strandline " in done.stdout
    for name in COMMANDS:
        assert f"\n  {name}" in done.stdout


@pytest.mark.parametrize("name", COMMANDS)
def test_overview_says_what_each_command_says_of_itself(name: str) -> None:
    command = cli.get_command(click.Context(cli), name)
    assert command is not None
    assert command.get_short_help_str(200).rstrip(".") == COMMANDS[name].line.rstrip(".")
    assert "Example: strandline " + name in run(name, "--help").output


def leaves(group: click.Group, name: str = "") -> Iterator[tuple[str, click.Command]]:
    """All commands that are no groups, with their whole names."""
    context = click.Context(group)
    for word in group.list_commands(context):
        command = group.get_command(context, word)
        assert command is not None
        if isinstance(command, click.Group):
            yield from leaves(command, f"{name}{word} ")
        else:
            yield f"{name}{word}", command


@pytest.mark.parametrize(
    ("name", "command"), list(leaves(cli)), ids=lambda one: one if isinstance(one, str) else ""
)
def test_every_command_answers_in_json_and_gives_an_example(name: str, command: click.Command) -> None:
    if name != "day new":  # it makes a folder to fill in, and answers nothing
        assert any("--json" in option.opts for option in command.params)
    assert f"Example: strandline {name.removesuffix(' run')} " in (command.epilog or "") + " "


def test_shells_complete_commands_and_options() -> None:
    # Oracle: click's own completion for bash.
    complete = BashComplete(cli, {}, "strandline", "_STRANDLINE_COMPLETE")
    assert {"sag", "advise", "pool"} <= {item.value for item in complete.get_completions([], "")}
    assert {"export", "show", "demo"} == {item.value for item in complete.get_completions(["pool"], "")}
    assert "--units" in {item.value for item in complete.get_completions(["chart"], "--u")}
    assert {"front", "rear"} == {item.value for item in complete.get_completions(["advise", "--end"], "")}


def test_no_such_command_is_wrong_usage() -> None:
    assert run("raed").exit_code == 2
    assert cli.get_command(None, "raed") is None  # type: ignore[arg-type]


def test_words_of_the_options_are_the_rooms_own() -> None:
    assert list(LAYOUTS) == [layout.value for layout in Layout] == [layout.value for layout in ReadLayout]
    assert set(STATES) == {state.value for state in State} - {"unknown"}
    assert set(MARKERS) == {kind.value for kind in MarkerKind} - {"unknown"}
    assert list(UNITS) == [unit.value for unit in Units]


# As glibc's loader words it (dlerror, from memory) for libraries that opencv-python's wheels link against.
@pytest.mark.parametrize("library", ["libGL.so.1", "libglib-2.0.so.0", "libgthread-2.0.so.0", "libSM.so.6"])
def test_missing_screen_library(library: str) -> None:
    error = ImportError(f"{library}: cannot open shared object file: No such file or directory")
    words = cannot_load(error)
    assert words is not None
    assert library in words
    for hint in ("apt-get install libgl1 libglib2.0-0", "mesa-libGL", "opencv-python-headless"):
        assert hint in words


def test_missing_opencv_and_other_import_errors() -> None:
    assert "pip install opencv-python" in (cannot_load(ImportError("No module", name="cv2")) or "")
    assert cannot_load(ImportError("No module named 'nothing'", name="nothing")) is None


def test_screen_library_message_reaches_the_person() -> None:
    code = (
        "import sys\n"
        "import strandline.read.one_photo as one\n"
        "def see(*_): raise ImportError('libGL.so.1: cannot open shared object file')\n"
        "one.see = see\n"
        "from PIL import Image\n"
        "import tempfile, pathlib\n"
        "folder = tempfile.mkdtemp()\n"
        "path = pathlib.Path(folder, 'a.jpg')\n"
        "Image.new('RGB', (8, 6)).save(path)\n"
        "sys.argv = ['strandline', 'read', str(path), '--shaft', '41mm', '--layout', 'fork']\n"
        "from strandline.__main__ import main\n"
        "try:\n    main()\nfinally:\n    path.unlink()\n    pathlib.Path(folder).rmdir()\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert "libgl1" in done.stderr
    assert "Traceback" not in done.stderr
