"""The command `boxwright`: its verbs, and what becomes of errors.

Nothing here or in a verb's module imports anything slow before the verb runs: help and completion answer at once.
"""

from __future__ import annotations

import contextlib
import os
import sys
import traceback
from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, Any, cast

import typer
from typer.core import TyperGroup

from boxwright.cli import demo, parts, predict, prove, report, shortlist
from boxwright.cli.stopping import came_of_a_stop, insist
from boxwright.errors import BoxwrightError

if TYPE_CHECKING:
    from typer._click.core import Context

__all__ = ["app", "main"]


# The library's error for words and options that it does not know: what an unusable value is a kind of.
UsageError = cast("type[Exception]", typer.BadParameter.__mro__[1])


class Verbs(TyperGroup):
    """A group of verbs whose expected errors end in one line on stderr and an exit code, never in a traceback."""

    def make_context(self, *arguments: Any, **named: Any) -> Context:
        """Read the words before the verb."""
        with _in_one_line("boxwright"):
            return super().make_context(*arguments, **named)

    def invoke(self, ctx: Context) -> Any:
        """Run the verb."""
        with _in_one_line(ctx.command_path):
            return super().invoke(ctx)


@contextlib.contextmanager
def _in_one_line(command: str) -> Iterator[None]:
    try:
        yield
    except BoxwrightError as error:
        typer.echo(f"boxwright: {one_line(error)}", err=True)
        raise typer.Exit(error.exit_code) from None
    except UsageError as error:
        if "\n" in str(error):  # nothing was asked at all: the library answers with the help
            raise
        typer.echo(f"boxwright: {_usage(error, command)}", err=True)
        raise typer.Exit(2) from None
    except (KeyboardInterrupt, ImportError) as error:
        if not came_of_a_stop(error):
            raise
        typer.echo("boxwright: stopped; no file was left half-written", err=True)
        raise typer.Exit(130) from None


def _usage(error: Any, command: str) -> str:
    """What is wrong with the words of a command, and where its words are listed."""
    text, _, near = one_line(error.format_message()).rstrip(".").partition(" (Possible options: ")
    path = error.ctx.command_path if error.ctx is not None else command
    mend = f"did you mean {near.rstrip(')')}?" if near else f"see: {path} --help"
    return f"{text[:1].lower()}{text[1:]} ({path}); {mend}".replace("argument(s)", "word")


def one_line(error: BaseException | str) -> str:
    """An error's text as one line that cannot disturb a terminal."""
    text = " ".join(str(error).split())
    return "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in text)


app = typer.Typer(
    name="boxwright",
    cls=Verbs,
    help="From a brief to a loudspeaker box for low notes, proved before it is cut.",
    no_args_is_help=True,
    rich_markup_mode=None,  # plain help: rich would take as long to import as all the rest
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)


def _version(wanted: bool) -> None:
    if wanted:
        from importlib import metadata

        typer.echo(f"boxwright {metadata.version('boxwright')}")
        raise typer.Exit


@app.callback()
def _common(
    version: Annotated[
        bool, typer.Option("--version", help="Print the version and leave.", callback=_version, is_eager=True)
    ] = False,
) -> None:
    """From a brief to a loudspeaker box for low notes, proved before it is cut."""


app.command("demo", short_help="The whole job on the bundled example, every file in a folder.")(demo.demo)
app.command("shortlist", short_help="Every box a brief allows, ranked, with reasons.")(shortlist.shortlist)
app.command("predict", short_help="Level, travel, impedance, highest clean level.")(predict.predict)
app.command("prove", short_help="What it does at level, in heat, under gravity, across units.")(prove.prove)
app.command("report", short_help="One PDF or HTML to hand on.")(report.report)
app.add_typer(parts.app, name="parts")


def main() -> None:
    """Run the command."""
    insist()
    for stream in (sys.stdout, sys.stderr):
        # a terminal without our letters gets question marks, not an error
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")
    try:
        app(prog_name="boxwright")
    except OSError as error:
        # results that cannot be delivered: a full disk behind a redirection, say
        _mute()
        what, mend = "output could not be written", ""
        if _of_the_compiler(error):
            what, mend = (
                "compiled code could not be kept",
                "; free some space, or name a folder with NUMBA_CACHE_DIR",
            )
        typer.echo(f"boxwright: {what}: {error.strerror or error}{mend}", err=True)
        sys.exit(1)


def _of_the_compiler(error: OSError) -> bool:
    """Whether an error arose while compiled code was put by for the next time."""
    names = [frame.f_globals.get("__name__", "") for frame, _ in traceback.walk_tb(error.__traceback__)]
    return any(name.startswith("numba.core.caching") for name in names)


def _mute() -> None:
    """Keep the interpreter from flushing to a broken output once more on its way out."""
    with contextlib.suppress(OSError, ValueError):
        null = os.open(os.devnull, os.O_WRONLY)
        os.dup2(null, sys.stdout.fileno())
        os.close(null)
