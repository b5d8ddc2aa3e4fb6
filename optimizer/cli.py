"""The command `panwise`: each verb turns options into one call of a service, and its result into text or JSON.

Exit status: 0 done; 1 no recipe or plan, which is an answer; 2 input at fault; 3 a fault of the program itself.
Results go to stdout and everything else to stderr, so `panwise ... --json > file` is always clean.
"""

from __future__ import annotations

import errno
import importlib
import os
import sys
from typing import NoReturn

import click

from optimizer import __version__
from optimizer.commands.text import paragraph
from optimizer.errors import InputFault, OutOfRange, PanwiseError

VERBS = {  # verb -> where its command is; imported when asked for
    "open": "optimizer.commands.open:open_pages",
    "demo": "optimizer.commands.recipe:demo",
    "today": "optimizer.commands.today:today",
    "recipe": "optimizer.commands.recipe:recipe",
    "offers": "optimizer.commands.offers:offers",
    "fruits": "optimizer.commands.fruits:fruits",
    "products": "optimizer.commands.products:products",
    "endpoint": "optimizer.commands.endpoint:endpoint",
    "check": "optimizer.commands.check:check",
    "stock": "optimizer.commands.stock:stock",
    "trace": "optimizer.commands.trace:trace",
    "backup": "optimizer.commands.backup:backup",
    "paths": "optimizer.commands.open:paths",
}


class Verbs(click.Group):
    """A group that imports a verb when it is asked for, and answers every error with a sentence, never a traceback."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in VERBS:
            return None
        module, _, name = VERBS[cmd_name].partition(":")
        command = getattr(importlib.import_module(module), name)
        assert isinstance(command, click.Command)
        return command

    def invoke(self, ctx: click.Context) -> object:
        for stream in (sys.stdout, sys.stderr):
            if hasattr(stream, "reconfigure"):  # a terminal that lacks a letter gets a question mark, not a crash
                stream.reconfigure(errors="replace")
        try:
            return super().invoke(ctx)
        except (click.exceptions.Exit, click.Abort, click.ClickException):
            raise
        except (InputFault, OutOfRange) as error:
            stop(ctx, str(error), 2)
        except PanwiseError as error:
            stop(ctx, str(error), 1)
        except OSError as error:
            if error.errno == errno.EPIPE:
                raise  # click ends quietly when the reader of a pipe has gone
            stop(ctx, f"{error.filename or 'a file'}: {error.strerror}; check the name and whether it may be read", 2)
        except Exception as error:
            if os.environ.get("PANWISE_DEBUG"):
                raise
            kind = f"{type(error).__name__}: {error}"
            stop(
                ctx,
                f"panwise stopped on a fault of its own ({kind}). Please report it with the command "
                "you gave; with PANWISE_DEBUG=1 set, it prints where it happened.",
                3,
            )


def stop(ctx: click.Context, message: str, status: int) -> NoReturn:
    """End the command calmly: the message on stderr, wrapped, and an exit status."""
    for line in message.splitlines():
        inset = len(line) - len(line.lstrip())
        click.echo(paragraph(line.strip(), indent=inset, hanging=2), err=True)
    ctx.exit(status)


@click.group(cls=Verbs, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80})
@click.version_option(__version__, "--version", prog_name="panwise", message="%(prog)s %(version)s")
def main() -> None:
    """Least-cost recipes for jam, jelly and other fruit preserves from the fruit
    on hand, with reasons.

    Each VERB explains itself with an example: panwise VERB --help
    """


if __name__ == "__main__":
    main()
