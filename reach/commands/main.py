"""The `reach` command: finds a subcommand by name and loads only that one, so that help is quick."""

from __future__ import annotations

import importlib
import sys
import traceback

import click

from reach import __version__
from reach.commands.interrupts import STATUS, WORDS, Interrupts
from reach.commands.speaking import abandon_output, finish_streams, prepare_streams, warn
from reach.errors import InputProblem, ReachError
from reach.lists import did_you_mean
from reach.machinery.process import keep_memory
from reach.visible import visible

# name -> one-line help, in the order shown; the module reach.commands.<name> holds `command`
COMMANDS = {
    "demo": "Plan an invented club on invented terrain: see everything at once.",
    "guide": "A short book on planning and running a net, with pictures; no network needed.",
    "new": "Start a net folder that runs as it is, ready to be made yours.",
    "check": "Read a net folder, list every fault, the defaults used, the tiles needed.",
    "columns": "Every column of roster.csv and key of net.toml, with what to write.",
    "tiles": "Fetch the elevation a net lacks from an open data set, when asked.",
    "repeater": "Who gets into the repeater, who only hears it, who does neither.",
    "simplex": "Who hears whom radio to radio, tonight's net control, and the relays.",
    "path": "One path in full: profile, clearance, loss, both directions.",
    "relays": "The fewest relays, who steps in for whom, and what a change would change.",
    "control": "Who should be net control, and a rota of the coming nets for the calendar.",
    "sheet": "The page to run the net from: what to say, whom to call, who relays.",
    "desk": "A page on this machine to run tonight's net from, and to try changes.",
    "area": "From where a chosen kind of station gets in: a map for every cell.",
    "backup": "Repeater down, mains lost: how the net goes on, and what each single loss costs.",
    "sites": "Where to put a portable relay, and where a cut-off member can drive to.",
    "places": "Which stations work the shelters and hospitals the club serves, in each case.",
    "exercise": "Random failures, round by round, for the club to rehearse.",
    "report": "Write down who was really heard: every plan then uses it.",
    "trust": "How far plans can be trusted, judged by who was really heard.",
    "kit": "A printed page for each operator: where to go and whom to call in which case.",
    "selfcheck": "The path-loss models against the standards bodies' own cases, on this machine.",
}


class LazyCommands(click.Group):
    """A group that imports a subcommand's module only when it is used."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        if name not in COMMANDS:
            return None
        command = importlib.import_module(f"reach.commands.{name}").command
        assert isinstance(command, click.Command)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and not args[0].startswith("-") and args[0] not in COMMANDS:
            fix = did_you_mean(args[0], COMMANDS, otherwise=f"there are {', '.join(COMMANDS)}")
            ctx.fail(f'No such command "{args[0]}"; {fix}')
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(
    cls=LazyCommands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100}
)
@click.version_option(__version__, prog_name="reach")
def reach() -> None:
    """Plan a radio club's voice nets from terrain.

    FOLDER is a net folder: net.toml, roster.csv and elevation tiles. A prediction is no promise: test on
    the air before you rely on it. In danger call the emergency number first.
    """


def main() -> None:
    """Entry point: whatever stops a command is said in one clear line, with the exit code that goes with it.

    0 done, or nobody reads on; 1 a check did not hold, or a fault of this program; 2 what was given cannot be
    used, or the result not written; 130 interrupted, always.
    """
    keep_memory()
    with Interrupts() as interrupts:
        try:
            status = _run(interrupts)
        except KeyboardInterrupt:  # just before or after, or pressed again amid the words
            warn(WORDS)
            status = STATUS
        if interrupts.asked and status != STATUS:  # lost on its way by a library
            warn(WORDS)
            status = STATUS
        interrupts.asked |= status == STATUS  # its thread may not have heard yet
    sys.exit(status)


def _run(interrupts: Interrupts) -> int:
    stdout = sys.stdout
    try:
        prepare_streams()
        status = reach(prog_name="reach", standalone_mode=False)
        finish_streams()
    except (click.exceptions.Abort, KeyboardInterrupt):
        warn(WORDS)
        return STATUS
    except click.exceptions.Exit as stop:
        return stop.exit_code
    except click.ClickException as error:
        warn(_usage_words(error))
        return 2
    except InputProblem as problem:
        for fault in problem.faults:
            warn(visible(str(fault)))
        return 2
    except ReachError as error:
        warn(str(error))
        return 2
    except BrokenPipeError:
        abandon_output()
        return 0
    except OSError as error:
        what = error.filename if isinstance(error.filename, str) else "standard output"
        warn(f"{visible(what)}: {error.strerror or error}.")
        abandon_output()
        return 2
    except SystemExit:
        if sys.stdout is stdout:
            raise
        abandon_output()  # click has put its own in place: nobody reads on
        return 0
    except Exception as error:
        if interrupts.asked or _came_of_interruption(error):
            warn(WORDS)
            return STATUS
        warn(traceback.format_exc().rstrip())
        warn("This is a fault in reach itself, not in your files; nothing half-written is left.")
        return 1
    return status if isinstance(status, int) else 0


def _came_of_interruption(error: BaseException) -> bool:
    """Whether a library made an error of its own out of Ctrl-C."""
    behind: BaseException | None = error
    while behind is not None:
        if isinstance(behind, KeyboardInterrupt):
            return True
        behind = behind.__cause__ or behind.__context__
    return False


def _usage_words(error: click.ClickException) -> str:
    """What is wrong with the line as typed, and where to read on; on one line."""
    words = visible(" ".join(error.format_message().split("\n"))).rstrip(".")
    context = error.ctx if isinstance(error, click.UsageError) else None
    path = context.command_path.split(" ", 1)[1:] if context is not None else []
    return f"{words}; `{' '.join(['reach', *path, '--help'])}` tells what there is."


if __name__ == "__main__":
    main()
