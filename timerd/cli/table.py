"""Every command: its name, its line of help, and the module that does it, which is imported only when it is used."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

LISTED = 50
"""So many sheets are listed, unless more are asked for."""


class Command(NamedTuple):
    """A command: its name, what it does, and the module of timerd.cli that has its options and does it."""

    name: str
    text: str
    module: str


class Group(NamedTuple):
    """A command that is several: `word` stands for them in its usage, `title` over them in its help. `described`:
    whether each of them says at the head of its own help what it does."""

    name: str
    text: str
    commands: tuple[Command | Group, ...]
    word: str = "WHAT"
    title: str | None = None
    described: bool = True


TOPICS: Mapping[str, str] = {
    "plan": "a print's file: worked out, checked, rehearsed",
    "files": "prints, benches, papers and bath lines: how they are written, where they are sought",
    "bench": "a bench that is served; what its file may say; a Raspberry Pi; check and acceptance",
    "pedals": "what the two pedals do, and when",
    "evening": "many sheets: boxes, batches, second thoughts, another negative, a third pedal",
    "dark": "what can be changed in the dark",
    "screen": "the red screen, and how it is tested",
    "sound": "what is heard, and what it means",
    "trays": "the wet side: baths, times, temperatures, when white light is safe",
    "map": "the sheet with its areas at real size",
    "paper": "a paper's curve: contrast, one area's burn, flash, another paper",
    "strips": "test strips that run on the bench; a lamp's lag and drift",
    "proof": "the picture of a print before it is printed",
    "size": "a print at another size, aperture or height",
    "book": "what each sheet was given; notes, exports, copies, a damaged book",
    "next": "the next sheet: adopt, repeat, revise, compare, editions",
    "report": "a page of a sheet or a print, to read, print and keep",
    "measured": "what was measured, and on what",
    "changes": "what is new, for the printer",
}
"""The pages of the manual, `timerd/manual/NAME.md`, and what each is about."""

SUBJECTS: Mapping[str, tuple[Command | Group, ...]] = {
    "plan": (
        Command("help", "read the manual, a topic a page; or a command's own help", "manual"),
        Command("demo", "play two sheets of a print on the simulated bench, and draw what happened", "demo"),
        Command("try", "print a sheet without a bench: simulated lines, a window or this terminal, two keys", "trial"),
        Command("list", "say what prints, benches, papers or baths there are, and where each lies", "listing"),
        Command("check", "say all that is wrong with print, bench, paper, bath and feet files", "planning"),
        Command("plan", "work a print out: every step with its dose, seconds and cues", "planning"),
        Command("rehearse", "play a print on the simulated bench by scripted feet, in virtual time", "planning"),
        Command("schema", "print the JSON schema of a kind of file, for editors", "planning"),
        Command("map", "draw the sheet with its areas at real size, as an SVG for paper", "mapping"),
    ),
    "bench": (
        Command("serve", "keep a bench: its lines, pedals, book and socket, until stopped", "serving"),
        Command("load", "put a print on the bench that is served; the pedals do the rest", "loading"),
        Command("status", "say how the bench stands", "status"),
        Command("press", "press a pedal of a simulated bench", "pressing"),
        Command("dark", "make everything dark now; without a daemon that answers, by taking the lines from it", "dark"),
        Command("clear", "clear a fault, once every line reads low", "dark"),
        Group(
            "bench", "the bench as it is built: what is right on its computer, and its acceptance",
            (
                Command(
                    "check", "say what is right and wrong on this machine, and what to do; nothing is lit", "bench"
                ),
                Command(
                    "test",
                    "lead through the acceptance of a bench on 12 V lamps, with its pedals, and write the acceptance "
                    "sheet",
                    "bench",
                ),
            ),
            title="what to do",
        ),
        Command("arm", "begin the next sheet of the print that is loaded, with its start prompt", "orders"),
        Command("skip", "leave the step that is ready out", "orders"),
        Command("end", "end the step that is paused here: the rest of it is not owed", "orders"),
        Command("abandon", "stop working on the sheet at hand; it may be taken up again", "orders"),
        Command("set-aside", "the sheet at hand goes into its box, to be taken up later", "orders"),
        Command(
            "tray", "the finished sheet goes to the trays (without named baths: it is in the fixer)", "orders"
        ),
        Command(
            "view", "the next press of go shows the paper-safe light (with no sheet out: the viewing light)", "orders"
        ),
        Command("rest", "to idle, when a sheet is done", "orders"),
        Command("step", "go to another step of the sheet at hand; what is passed by is still owed", "orders"),
        Command("owe", "owe a step again that was ended or skipped in error, and go to it", "orders"),
        Command(
            "take-up", "take a sheet out of its box again, through a start prompt, owing what it owed", "orders"
        ),
        Command("give-up", "the sheet that was abandoned, or is offered, is given up for good", "orders"),
        Command("panel", "show the daemon's state on a red screen", "panel"),
        Command("say", "speak how the bench stands, once", "speaking"),
    ),
    "sheet": (
        Command("sheets", f"list the last {LISTED} sheets in the book", "sheets"),
        Command("sheet", "say what a sheet was given, against its plan", "sheet"),
        Command("note", "write a note about a sheet into the book", "remarks"),
        Command("rate", "rate a sheet, from 1 to 5; the last rating holds", "remarks"),
        Group(
            "book", "export, back up, check or rescue the book",
            (
                Command("export", "write sheets to a file: .csv, a line a step, or .jsonl, a line a sheet", "book"),
                Command("columns", "say what stands in an export", "book"),
                Command("backup", "copy the book into a new file; it may be written meanwhile", "book"),
                Command("check", "check the file, and fold every sheet anew", "book"),
                Command("rescue", "read what can be read of a damaged book; it is not touched", "book"),
            ),
            described=False,
        ),
    ),
    "baths": (
        Command("baths", "say what is left of each bath, and what is to be renewed; or show a bath line", "baths"),
        Group(
            "bath", "tell what was done to a bath: a new batch, its temperature; or move sheets by command",
            (
                Command("new", "a bath was mixed anew: its count begins again", "batch"),
                Command("temperature", "a bath's temperature, as you read it: its times follow", "batch"),
                Command("start", "the sheets that wait in their box go into the first bath, as one stack", "stacks"),
                Command("leave", "a sheet is taken out of the baths", "stacks"),
            ),
        ),
    ),
    "print": (
        Command(
            "adopt", "make a print of what a sheet was given, free burns and steps ended early included", "adopt"
        ),
        Command("repeat", "put what a sheet was given on the bench that is served, dose for dose", "repeat"),
        Command("compare", "say what differs between two prints or sheets, in stops and in contrast", "comparing"),
        Command("revise", "write a print's next version, with so many stops more or less here and there", "comparing"),
        Command(
            "edition", "lay all finished sheets of a print beside its plan: spread and drift, in stops", "editions"
        ),
        Group(
            "strip", "make a test strip that runs on the bench, or read one",
            (
                Command("base", "find the seconds of a base", "strips"),
                Command("grid", "find two bases at once, one light against the other on one sheet", "strips"),
                Command("flash", "find a paper's threshold: the largest flash that leaves no tone", "strips"),
                Command("dry-down", "find a paper's dry-down: patches to dry and to keep wet", "strips"),
                Command("safelight", "find how long a paper may lie under the safelight", "strips"),
                Command(
                    "read", "turn the patch chosen on a strip into the value in the print's or paper's file", "strips"
                ),
            ),
            word="KIND",
            title="strips",
        ),
        Command("lag", "find a lamp's lag: one long burst beside many short ones of the same density", "lamps"),
        Command("drift", "compare two readings of one light: stops, and the corrected time", "lamps"),
        Command("enlarge", "work a print out anew for another size, aperture or height", "enlarge"),
    ),
    "paper": (
        Group(
            "paper", "a paper's curve: fit it to readings, count it from two patches, tell and draw it",
            (
                Command("fit", "the curve from densitometer readings of a step wedge", "paper"),
                Command("count", "a rough curve without a densitometer: first tone and first full black", "paper"),
                Command("range", "ISO range and speed in one mix of lights", "paper"),
                Command("show", "the family of curves, R against the mix, what a flash does", "paper"),
            ),
            title="what to do",
            described=False,
        ),
        Command("contrast", "green and blue seconds for two wanted tones, or an ISO range and one tone", "tones"),
        Command("area", "the ways to a density for one area: burn in green, blue or both, or flash", "tones"),
        Command("flash", "a flash as a fraction of the threshold: dose, and the range before and after", "flashing"),
        Command("move", "a print on another paper: bases and burns worked out anew, and what does not match", "moving"),
        Command(
            "proof", "compute the picture of a print, or of what a sheet was given, and tell its areas", "proof"
        ),
        Command(
            "report", "make a page of a sheet, or of a print as planned: to read, to print, to keep", "report"
        ),
    ),
}  # fmt: skip
"""The commands by their subject, in the order in which `timerd --help` lists them."""

ALL = Group(
    "timerd", "Works a print's exposures out and steps through them, hands free.",
    tuple(command for commands in SUBJECTS.values() for command in commands), word="COMMAND", title="commands",
)  # fmt: skip
