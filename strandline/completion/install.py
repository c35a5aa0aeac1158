"""``strandline completion install``: the shell's own completion of commands and options."""

from __future__ import annotations

import json
import os
from pathlib import Path, PurePath

import click

from strandline.shared.options import json_option

SHELLS = ("bash", "zsh", "fish")


@click.command(
    "install",
    epilog="Example: strandline completion install --shell zsh",
    short_help="Let the shell complete commands and options.",
)
@click.option(
    "--shell", type=click.Choice(SHELLS, case_sensitive=False), help="The shell. Left out: the one in $SHELL."
)
@json_option
@click.pass_context
def command(ctx: click.Context, shell: str | None, as_json: bool) -> None:
    """Write the completion's script where the shell looks for it, and say what is left to do.

    Bash (with the package bash-completion) and fish find it in the next terminal; zsh needs one line in ~/.zshrc.
    """
    from click.shell_completion import get_completion_class

    from strandline.shared.files import make_folder, write_new
    from strandline.shared.messages import errors_as_messages, printable

    shell = shell or PurePath(os.environ.get("SHELL", "")).name
    made = get_completion_class(shell) if shell in SHELLS else None
    if made is None:
        raise click.UsageError(f"Say for which shell: --shell {', --shell '.join(SHELLS)}.")
    target = place_for(shell)
    with errors_as_messages():
        script = made(ctx.find_root().command, {}, "strandline", "_STRANDLINE_COMPLETE").source()
        make_folder(target.parent)
        write_new(target, script.encode("utf-8"), force=True)
    if as_json:
        click.echo(json.dumps({"shell": shell, "file": str(target)}))
        return
    click.echo(printable(f"{target}: written."))
    if shell == "zsh":
        click.echo("Add this line to ~/.zshrc, after compinit:")
        click.echo(printable(f"  source '{target}'"))
    click.echo("Open a new terminal, type strandline and a space, and press Tab.")


def place_for(shell: str) -> Path:
    """Find where a shell looks for scripts of the user's own (XDG; zsh has no such place)."""
    data = Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local/share")
    config = Path(os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config")
    return {
        "bash": data / "bash-completion/completions/strandline",
        "zsh": data / "strandline/completion.zsh",
        "fish": config / "fish/completions/strandline.fish",
    }[shell]
