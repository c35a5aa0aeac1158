"""``strandline completion install``; the oracle is the shell itself, reading what was written."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest
from click.testing import CliRunner

from strandline.__main__ import cli
from tests.helpers.made_readings import strict


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("SHELL", "/bin/bash")
    return tmp_path


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_script_stands_where_it_is_said_and_the_shell_reads_it(shell: str) -> None:
    for _ in range(2):  # a second time, too
        result = CliRunner().invoke(cli, ["completion", "install", "--shell", shell, "--json"])
        assert result.exit_code == 0, result.output
    path = Path(strict(result.stdout)["file"])
    assert "_STRANDLINE_COMPLETE" in path.read_text(encoding="utf-8")
    if shutil.which(shell) is not None:
        subprocess.run([shell, "-n", str(path)], check=True)


def test_bash_finds_it_by_its_own_rule_and_knows_the_command(home: Path) -> None:
    result = CliRunner().invoke(cli, ["completion", "install"])
    assert result.exit_code == 0 and "press Tab" in result.output
    path = home / "data/bash-completion/completions/strandline"
    done = subprocess.run(
        ["bash", "-c", f"source '{path}' && complete -p strandline"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.strip().endswith(" strandline")


def test_an_unknown_shell_is_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SHELL", "/bin/tcsh")
    result = CliRunner().invoke(cli, ["completion", "install"])
    assert result.exit_code == 2 and "--shell bash" in result.output
