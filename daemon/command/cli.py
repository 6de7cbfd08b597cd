"""The `stokehand` command."""

from __future__ import annotations

import json
import re
import signal
import sqlite3
import sys
import tomllib
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from daemon.command.attendant import Temper
from daemon.command.off import DEFAULT_CONFIG
from daemon.command.off import make_safe as drive_all_off
from daemon.command.past import past
from daemon.command.runner import ScanFailed
from daemon.command.tend import BAD_INPUT, FAULT, plan_for, tend_by_file
from daemon.course.asks import Ask, Word
from daemon.outside.channel import Channel, send_ask
from daemon.outside.notices import Json
from daemon.plans.file import PlanFault, load_plan, shipped_plans
from daemon.plans.plan import Plan
from daemon.record.journal import BATCH_S, FLAT_OUT_BATCH_S, Record
from daemon.settings import Settings, SettingsFault, load_settings
from hardware.port import RigFault

if TYPE_CHECKING:  # the daemon has no use for a rehearsal, and a small board takes seconds over what one needs
    from daemon.command.rehearse import Fault, Rehearsal

FIRED, TRIPPED, BY_HAND = 0, 3, 130
CONFIG = Path(DEFAULT_CONFIG)
TIME = re.compile(r"(?:(\d+)h)?(?:(\d+)m(?:in)?)?(?:(\d+)s)?")

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode="markdown",
    help="""Fires a pellet kiln along a plan: reads thermocouples, drives the auger, holds the air, enforces interlocks.

A person lights the kiln, stays with it and answers for it. This is **not a certified burner control**: a fire can burn
a building down and its exhaust holds carbon monoxide. Keep the spacing from combustibles that local codes ask for, use
a grounded cord on a ground-fault outlet, fire outdoors or under a working flue, wear infrared eye protection at the
spy-hole, never leave a burning kiln, and leave mains wiring to licensed people.

Start with `stokehand rehearse --speed 60 --page`: a whole firing on a simulated kiln, nothing to connect.""",
)

app.add_typer(past)


def say(message: str) -> None:
    """A line for the person, apart from what a script reads."""
    print(message, file=sys.stderr, flush=True)


def refuse(message: str, status: int = BAD_INPUT) -> NoReturn:
    """Bad input, unless another exit status is given: say it and end."""
    typer.secho(message, bold=True, err=True)
    raise typer.Exit(status)


def read_speed(text: str) -> float | None:
    """`1`, `60` or `max`. Ends with 2 on anything else."""
    if text == "max":
        return None
    try:
        speed = float(text)
    except ValueError:
        speed = -1.0
    if not 0 < speed <= 100000:
        refuse(f"--speed {text}: give how many times faster than real time (1, 60, …), or max for flat out.")
    return speed


def read_faults(texts: list[str]) -> tuple[Fault, ...]:
    """`NAME@TIME` pairs. Ends with 2 on anything else."""
    from daemon.command.rehearse import Fault

    faults = []
    for text in texts:
        name, at, when = text.partition("@")
        match = TIME.fullmatch(when)
        if not at or not name or match is None or not when:
            refuse(f"--fault {text}: write NAME@TIME, the time since the start, for example fan-stops@2h30m.")
        hours, minutes, seconds = (int(part or 0) for part in match.groups())
        faults.append(Fault(name, hours * 3600.0 + minutes * 60.0 + seconds))
    return tuple(faults)


def read_plan(name: str, settings: Settings) -> Plan:
    """The plan. Ends with 2 when it can't be fired, at all or on this kiln."""
    try:
        return plan_for(name, settings)
    except PlanFault as fault:
        refuse(str(fault))


def read_config(path: Path | None) -> Settings:
    """The configuration; the built-in one where none is named. Ends with 2 when it can't be used."""
    if path is None:
        return Settings()
    try:
        return load_settings(path)
    except SettingsFault as fault:
        refuse(str(fault))


@app.command()
def rehearse(
    plan: Annotated[str, typer.Option(help="A shipped plan's name (see `stokehand plan`), or a plan file.")] = "",
    speed: Annotated[str, typer.Option(help="1 is real time, 60 is a minute a second, max is flat out.")] = "max",
    seed: Annotated[int, typer.Option(help="Chance: the same seed gives the same firing, to the byte.")] = 1,
    fault: Annotated[
        list[str] | None,
        typer.Option(help="NAME@TIME: break something, e.g. fan-stops@2h30m. Repeatable; a wrong name lists all."),
    ] = None,
    attendant: Annotated[
        Temper, typer.Option(help="The simulated person: prompt, late, wrong (says so without doing it), absent.")
    ] = Temper.PROMPT,
    record: Annotated[Path | None, typer.Option(help="Keep the record in this file. Else nothing is kept.")] = None,
    rig: Annotated[
        str, typer.Option(help="Another rig, as package.module:factory. Its factory gets the [rig] table as options.")
    ] = "",
    config: Annotated[Path | None, typer.Option(help="A configuration file, for other settings.")] = None,
    page: Annotated[bool, typer.Option("--page", help="Show the firing in a browser while it runs.")] = False,
    port: Annotated[int, typer.Option(min=1, max=65535, help="Where the page is, with --page.")] = 8321,
    as_json: Annotated[
        bool, typer.Option("--json", help="One JSON object on standard output at the end; all else on standard error.")
    ] = False,
) -> None:
    """Rehearse a firing on a simulated kiln, from cold to cold.

    The daemon runs exactly as it would on a Raspberry Pi: the same drivers talk to emulated chips and pins, and a
    simulated attendant lights the charcoal, answers, fills the hopper and looks at the flame. Nothing is heated.

    **Exit status**: 0 fired to the end, 3 ended by a trip, 2 bad input, 1 a fault in the program, 130 stopped by hand.
    """
    from daemon.command.rehearse import Rehearsal

    settings = read_config(config)
    sys.path.append(str(Path.cwd()))  # a rig of one's own may lie in the folder one works in
    rehearsal = Rehearsal(
        read_plan(plan or settings.plan, settings), settings, rig or rehearsal_rig(settings, config), seed,
        read_speed(speed), attendant, read_faults(fault or []),
    )  # fmt: skip
    summary = play(rehearsal, record, port if page else None)
    if as_json:
        print(json.dumps(summary))
    else:
        from daemon.command.progress import print_summary

        print_summary(summary)
    raise typer.Exit({"tripped": TRIPPED, "fired to the end": FIRED}.get(str(summary["ended"]), FAULT))


def play(rehearsal: Rehearsal, record: Path | None, page_port: int | None) -> dict[str, Json]:
    """Run a rehearsal with its record, its page and its progress on the terminal; what came of it.

    Ends with the exit status of bad input, a fault or a stop by hand.
    """
    import tempfile

    from daemon.command.page import PageFault, serve_page
    from daemon.command.progress import Progress
    from daemon.command.rehearse import Rehearser

    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="stokehand-")))
        try:
            batch_s = BATCH_S if rehearsal.speed is not None else FLAT_OUT_BATCH_S
            kept = Record(record or folder / "rehearsal.sqlite", rehearsal.rig, batch_s)
        except (OSError, sqlite3.Error) as problem:
            refuse(f"{record}: the record can't be kept there ({problem}).")
        stack.callback(kept.close)
        channel = None
        if page_port is not None:
            channel = Channel(folder)
            stack.callback(channel.close)
        try:
            run = Rehearser(rehearsal, kept, channel)
        except (RigFault, ValueError) as problem:
            refuse(str(problem))
        if page_port is not None:
            try:
                url = stack.enter_context(serve_page(folder, page_port))
            except PageFault as problem:
                run.rig.close()
                refuse(str(problem))
            typer.secho(f"The firing is shown at {url}", bold=True, err=True)
        progress = stack.enter_context(Progress(rehearsal))
        signal.signal(signal.SIGTERM, signal.default_int_handler)
        try:
            last = run.run(progress.show)
        except KeyboardInterrupt:
            say("Stopped by hand. Everything is off.")
            raise typer.Exit(BY_HAND) from None
        except (ScanFailed, RigFault) as problem:
            say(str(problem))
            raise typer.Exit(FAULT) from None
    return run.summary(last, record)


def rehearsal_rig(settings: Settings, config: Path | None) -> str:
    """A rehearsal is simulated unless another rig is named; a configured real board is never rehearsed on."""
    if config is not None and settings.rig.factory not in ("pi", "hardware.pi:open_rig"):
        return settings.rig.factory
    return "simulated"


@app.command()
def tend(
    config: Annotated[Path, typer.Option(help="The configuration file.")] = CONFIG,
    plan: Annotated[str, typer.Option(help="A plan, instead of the configuration's.")] = "",
) -> None:
    """Tend the kiln: the daemon on the rig that the configuration names.

    It comes up with the feed off. If the record ends in the middle of a firing it says what it found, keeps the feed
    locked out and waits for somebody at the kiln. `stokehand tell` and the page talk to it. Under systemd it reports
    readiness and feeds the watchdog from healthy scans only.

    **Exit status**: 0 stopped when asked to, 2 bad input, 1 a fault. After 2 the unit doesn't start it again.
    """
    raise typer.Exit(tend_by_file(config, plan))


@app.command()
def tell(
    word: Annotated[Word, typer.Argument(help="What you say; each word states that it is so.")],
    config: Annotated[Path, typer.Option(help="The configuration file: where the daemon listens.")] = CONFIG,
) -> None:
    """Say something to the daemon that tends the kiln, from a terminal beside it.

    An ask is not an order: the next scan answers it, and the page shows the answer. Nothing said here can reset a
    lock-out: that takes the button at the kiln.
    """
    settings = read_config(config)
    try:
        send_ask(settings.channel.folder, Ask(word, "terminal"))
    except OSError as problem:
        refuse(f"No daemon listens in {settings.channel.folder} ({problem}). Is `stokehand tend` running?")
    say(f"Said: {word.value}.")


@app.command("plan")
def show_plan(
    name: Annotated[str, typer.Argument(help="A shipped plan's name, or a plan file. Without it: list them.")] = "",
) -> None:
    """Check a firing plan and show it as the daemon reads it.

    A plan that can't be fired gets one message with the file, the stage, what is wrong and what would be right.
    """
    if not name:
        for shipped, path in shipped_plans().items():
            print(f"{shipped}: {load_plan(path).name}")
        return
    from daemon.command.progress import print_plan

    print_plan(read_plan(name, Settings()))


@app.command("interlocks")
def show_interlocks(
    config: Annotated[Path | None, typer.Option(help="The configuration file, for its limits.")] = None,
    markdown: Annotated[bool, typer.Option("--markdown", help="As daemon/interlocks/README.md has it.")] = False,
) -> None:
    """Show every interlock: what it looks for, its limit and delay in this configuration, what happens, and why."""
    from daemon.command.progress import print_interlocks
    from daemon.interlocks.listing import markdown as in_markdown

    settings = read_config(config) if config is not None else Settings()
    if markdown:
        print(in_markdown(settings))
    else:
        print_interlocks(settings)


@app.command("config")
def show_config(
    config: Annotated[Path | None, typer.Option(help="Show what is in force with this file, and where from.")] = None,
    check: Annotated[bool, typer.Option("--check", help="Say only whether it can be used.")] = False,
) -> None:
    """Print the configuration: a commented file to begin with, or what is in force with a file of yours.

    **Exit status**: 0 it can be used, 2 it can't, with everything that is wrong.
    """
    from daemon.command.config_file import commented_file, effective_file

    if config is None and not check:
        print(commented_file())
        return
    config = config or CONFIG
    settings = read_config(config)
    read_plan(settings.plan, settings)
    say(f"{config} can be used.")
    if not check:
        print(effective_file(settings, tomllib.loads(config.read_text(encoding="utf-8"))))


@app.command()
def doctor(
    config: Annotated[Path, typer.Option(help="The configuration file.")] = CONFIG,
    as_json: Annotated[bool, typer.Option("--json", help="A JSON list on standard output, instead of words.")] = False,
) -> None:
    """Say what is missing or wrong on this board, and the command that mends it. It changes nothing.

    **Exit status**: 0 all is well, 1 something is wrong.
    """
    from dataclasses import asdict

    from daemon.command.doctor import Board, examine, in_words

    findings = list(examine(Board(), config))
    if as_json:
        print(json.dumps([asdict(finding) for finding in findings]))
    else:
        in_words(findings, print)
    raise typer.Exit(FIRED if all(finding.well for finding in findings) else FAULT)


@app.command("try")
def try_wiring(
    config: Annotated[Path, typer.Option(help="The configuration file.")] = CONFIG,
    seconds: Annotated[float, typer.Option(min=1, max=3600, help="For how long the inputs are shown.")] = 30.0,
) -> None:
    """Try the wiring by hand: inputs live, which probe is which, each output for a moment, the auger last.

    Do it with the kiln cold and the daemon stopped (`sudo systemctl stop stokehand`). Nothing is driven without a yes.

    **Exit status**: 0 all was as it should be, 1 something was not, 2 it can't be tried.
    """
    from daemon.command.try_out import try_outputs, watch_inputs, which_probe
    from daemon.outside.rigs import open_rig

    settings = read_config(config)
    try:
        rig = open_rig(settings.rig.factory, settings.rig.options)
    except RigFault as problem:
        refuse(str(problem))
    try:
        print(f"Inputs, for {seconds:.0f} s. Press, block and unplug: what changes is said.")
        watch_inputs(rig, print, seconds)
        while input("Which probe is which: hold one in your hand. Begin? [y/N] ") == "y":
            which_probe(rig, print)
        wrong = try_outputs(rig, input, print)
    except (EOFError, KeyboardInterrupt):
        refuse("Stopped. Everything is off.", BY_HAND)
    except RigFault as problem:
        refuse(str(problem), FAULT)
    finally:
        rig.close()
    print("\n".join(wrong) if wrong else "All that was tried was as it should be.")
    raise typer.Exit(FAULT if wrong else FIRED)


@app.command("make-safe")
def make_safe(
    config: Annotated[Path, typer.Option(help="The configuration file.")] = CONFIG,
) -> None:
    """Drive every output off and end. The unit runs it whenever the daemon has stopped, however it stopped."""
    raise typer.Exit(drive_all_off(str(config)))


def main() -> None:
    """The entry point."""
    try:
        app()
    except BrokenPipeError:
        sys.exit(FAULT)
