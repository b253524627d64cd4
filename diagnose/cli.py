"""The one command, `diagnose`: its sub-commands by name, loaded when they are asked for; errors turned into a message and a status."""

from __future__ import annotations

import io
import sys
from importlib import import_module
from typing import Any

import click

from diagnose import __version__
from diagnose.commands.common import say
from diagnose.errors import DiagnoseError

SECTIONS = {
    "At the engine": {
        "look": "session:look",
        "resume": "session:resume",
        "triage": "triage:triage",
        "explain": "triage:explain",
        "look-over": "triage:look_over_",
        "reckon": "reckon:reckon",
        "print": "print:print_",
    },
    "The job": {
        "plan": "work:plan",
        "parts": "work:parts",
        "ways": "work:ways",
        "also": "work:also",
        "wait": "work:wait",
        "work": "doing:work",
        "prove": "doing:prove",
        "follow": "doing:follow",
        "learned": "learned:learned",
    },
    "The record": {
        "boat": "record:boat",
        "hours": "record:hours",
        "service": "record:service",
        "note": "record:note",
        "photo": "record:photo",
        "found": "record:found",
        "close": "recordcase:close",
        "reopen": "recordcase:reopen",
        "set-due": "recordcase:set_due",
        "record": "record:record_",
        "trend": "trend:trend",
        "due": "trend:due",
        "tally": "record:tally",
        "replay": "record:replay",
        "export": "record:export_",
        "import": "record:import_",
        "backup": "record:backup",
        "restore": "record:restore",
    },
    "The book": {
        "rules": "rules:rules",
        "schema": "triage:schema",
    },
}
"""By moment of use: the name of each command, the module of `diagnose.commands` that holds it, and its name there."""
COMMANDS = {name: place for section in SECTIONS.values() for name, place in section.items()}


class _Commands(click.Group):
    """Commands that turn our errors into a message and exit status 2, and suggest a name that was mistyped."""

    def main(self, *args: Any, **kwargs: Any) -> Any:
        kwargs["standalone_mode"] = False
        for stream in (sys.stdout, sys.stderr):
            if isinstance(stream, io.TextIOWrapper):
                stream.reconfigure(errors="replace")  # a terminal of few letters shows a mark for the others
        try:
            result = super().main(*args, **kwargs)
            sys.exit(result if isinstance(result, int) else 0)
        except click.exceptions.Abort:
            sys.exit(130)
        except click.ClickException as error:
            error.show()
            sys.exit(2)
        except DiagnoseError as error:
            say(error)
            sys.exit(2)
        except BrokenPipeError:
            sys.stderr.close()
            sys.exit(0)

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        if cmd_name not in COMMANDS:
            return None
        module, _, name = COMMANDS[cmd_name].partition(":")
        command: click.Command = getattr(import_module(f"diagnose.commands.{module}"), name)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        widest = max(map(len, COMMANDS))
        for title, section in SECTIONS.items():
            found = {name: self.get_command(ctx, name) for name in section}
            with formatter.section(title):
                room = max(20, formatter.width - 6 - widest)
                formatter.write_dl([(name, command.get_short_help_str(room)) for name, command in found.items() if command is not None])

    def resolve_command(self, ctx: click.Context, args: list[str]) -> Any:
        try:
            return super().resolve_command(ctx, args)
        except click.UsageError as error:
            from diagnose.knowledge.text import did_you_mean

            near = did_you_mean(args[0], self.list_commands(ctx))
            raise click.UsageError(f"no command '{args[0]}'" + (f"; did you mean {near}?" if near else ""), ctx) from error


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="diagnose", message="%(prog)s %(version)s")
def main() -> None:
    """Say what is most likely wrong with a small inboard diesel, whether she may leave, and what to look at next.

    \b
    Example:
        diagnose triage slow-weep
    """
