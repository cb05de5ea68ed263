"""What each command is for, in a line that is never cut, by what people come for: `gapbook --help`, and the documents."""

from __future__ import annotations

from typing import Any

from typer.core import TyperGroup

GROUPS: dict[str, dict[str, str]] = {
    "Look": {
        "ask": "Answer a question typed in plain words.",
        "find": "The same question by options.",
        "show": "Everything about one frame, with its bed drawn.",
        "compare": "Beds side by side: verdicts, and why they differ.",
        "near": "The frames nearest to one, in bed and handling.",
        "advise": "What a bed may change for a player.",
        "retension": "The pull that makes one bed as stiff as another.",
        "draw": "A bed as a picture: SVG, PNG or PDF.",
        "chart": "Two traits of all frames as a picture.",
        "atlas": "The whole catalogue as one web page that works offline.",
        "drill": "Where strings must lie for the meshes you want.",
    },
    "Measure": {
        "sheet": "A page to measure on, and a folder to type the figures into.",
        "enter": "Type a sheet's figures at a prompt, each judged as you type.",
        "pages": "The two pages to print for photographs.",
        "photo": "Read a bed off a photograph on the printed pages.",
        "convert": "Make a contribution of a list that you have already.",
        "check": "Are readings sound? A package, or a contribution.",
        "agreement": "How well readings repeat and people agree.",
    },
    "Maintain": {
        "start": "Begin a data package of your own.",
        "admit": "Add a contribution to the catalogue: all rows or none.",
        "derive": "Compute anew what follows from the catalogue.",
        "correct": "Give one cell another value, and remember the old one.",
        "withdraw": "Take out a specimen, a session or a row.",
        "rename": "Give a frame, a copy or a person another id.",
        "merge": "Make one of two frames, people, copies or instruments.",
        "forget": "Take a person's name and id out; readings stay.",
        "history": "What happened to a frame, a copy or a person.",
        "upgrade": "Add tables and fields that came later.",
        "release": "Check, state a version, write the changelog and the export.",
    },
    "Analyse": {
        "sql": "One read-only SELECT over tables and views.",
        "relate": "How traits of beds go with outcomes of playtests.",
        "design": "How many playtests an effect takes, and a schedule.",
        "export": "All tables as Parquet, with units, checksums and a citation.",
    },
    "Help": {
        "help": "Topics: phrases, reading a bed, scores, exit codes.",
    },
}
"""The line of each command, by group. A command that is in none is listed last, with the first line of its help."""
OTHERS = "More"
SUMMARIES = {name: line for group in GROUPS.values() for name, line in group.items()}


def grouped(names: list[str]) -> list[tuple[str, list[str]]]:
    """These commands by group, in the order of GROUPS; those in none come last."""
    groups = [(title, [name for name in group if name in names]) for title, group in GROUPS.items()]
    groups.append((OTHERS, [name for name in names if name not in SUMMARIES]))
    return [(title, members) for title, members in groups if members]


class GroupedCommands(TyperGroup):
    """The command whose help lists its subcommands by what they are for."""

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write a section for each group."""
        for title, names in grouped(self.list_commands(ctx)):
            commands = {name: self.get_command(ctx, name) for name in names}
            rows = [(name, one.get_short_help_str(200)) for name, one in commands.items() if one is not None]
            with formatter.section(title):
                formatter.write_dl(rows)
