"""The command line: thin commands, loaded only when they are called."""

from __future__ import annotations

import importlib
import os
import sys
from typing import Any

import click

__all__ = ["main"]

#: command -> (where it is, the line of help shown in the list), in the order of a day's work
COMMANDS: dict[str, tuple[str, str]] = {
    "tour": ("shuntref.cli.tour:tour", "Walk through the whole job on an invented bench."),
    "derive": ("shuntref.cli.theory:derive", "Derive the speed, or another quantity, from the laws, step by step."),
    "predict": ("shuntref.cli.predict:predict", "Predict what a machine does at the settings you give."),
    "explain": ("shuntref.cli.explain:explain", "Say why the speed changes when you change one thing."),
    "solve": ("shuntref.cli.exercises:solve", "Solve an exercise and print the worked solution."),
    "check": ("shuntref.cli.marking:check", "Judge one answer to an exercise and name the likely slip."),
    "mark": ("shuntref.cli.marking:mark", "Mark the answers of a whole class."),
    "plan": ("shuntref.cli.bench:plan", "Plan a session: which resistors to use, and how to start."),
    "reduce": ("shuntref.cli.bench:reduce", "Compare a bench log with prediction, and identify the machine."),
    "conform": ("shuntref.cli.conformance:conform", "Judge somebody's implementation against the certified cases."),
    "export": ("shuntref.cli.conformance:export", "Write the verified formulas as source in another language."),
    "selfcheck": ("shuntref.cli.selfcheck:selfcheck", "Re-compute every piece of evidence, in front of you."),
}


class _LazyGroup(click.Group):
    """A group that imports a command's module only when that command is wanted."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        module, _, attribute = COMMANDS[cmd_name][0].partition(":")
        command: click.Command = getattr(importlib.import_module(module), attribute)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in COMMANDS.items()])


@click.group(cls=_LazyGroup, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="shuntref", message="%(prog)s %(version)s")
def _group() -> None:
    """A reference model of the d.c. shunt motor, with its evidence.

    Values are written with their unit: "0.8 ohm", "1450 r/min", "7.5 hp". Every command takes --json.

    The exit status is 0 when done, 1 when a check failed, and 2 when the input could not be used.
    """


def main(arguments: list[str] | None = None) -> Any:
    """Run the command line; the exit status is 0 done, 1 a check failed, 2 unusable input with one clear line."""
    try:
        status = _group.main(args=arguments, prog_name="shuntref", standalone_mode=False)
    except click.exceptions.Abort:
        _say("stopped")
        sys.exit(130)
    except click.ClickException as error:
        command = getattr(getattr(error, "ctx", None), "info_name", None)
        where = f" (try 'shuntref {command} --help')" if command in COMMANDS else ""
        _say(" ".join(error.format_message().split()) + where)
        sys.exit(2)
    except BrokenPipeError:  # the reader of our pipe went away: nothing more to say, and nobody to say it to
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(0)
    except OSError as error:
        name = f"{error.filename}: " if error.filename else ""
        _say(f"{name}{error.strerror or error}")
        sys.exit(2)
    except (ValueError, ImportError) as error:
        _say(" ".join(str(error).split()))
        sys.exit(2)
    sys.exit(status if isinstance(status, int) else 0)


def _say(line: str) -> None:
    shown = line.encode("utf-8", "backslashreplace").decode()  # a file name need not be text
    click.echo(f"shuntref: {shown}", err=True)
