"""`tidegate new DIR`"""

from __future__ import annotations

from pathlib import Path

import click

from tidegate.cli.exit_codes import told
from tidegate.cli.options import no_file_where_a_folder_is_wanted
from tidegate.errors import AskedWrongly


@click.command(
    "new",
    epilog=f"""\b
Examples:
  tidegate new harbour            tidegate.toml, the folders, rules/props.toml, names.toml
  tidegate new harbour --dry-run  show what would be made

{told(done="made, or shown", wrongly="something of that name is there, or may not be written, or asked wrongly")}""",
)
@click.argument("folder", metavar="DIR")
@click.option("--dry-run", is_flag=True, help="Show what would be made, and make nothing.")
def command(folder: str, dry_run: bool) -> int:
    """Make a folder with a commented configuration and a rule set to edit."""
    from tidegate.load.rule_folder import shipped_folder
    from tidegate.load.starter import starter_configuration, starter_rule_set

    root = Path(folder)
    files = {
        "tidegate.toml": starter_configuration(rule_set="props", names="names.toml", rule_folder="rules"),
        "rules/props.toml": starter_rule_set("Props of this studio", "first_look"),
        "names.toml": (shipped_folder() / "names.toml").read_text("utf-8"),
    }
    folders = ("inbox", "work", "delivery", "returned", "aside", "kept", "rules")
    no_file_where_a_folder_is_wanted(root, "nothing was made")
    taken = [name for name in files if (root / name).exists()]
    if taken:
        raise AskedWrongly(
            "exists already",
            path=str(root / taken[0]),
            done="nothing was changed",
            help="choose a new folder, or edit what is there",
        )
    # Made first and told after, so that a reader of our output that goes away leaves no half project behind.
    if not dry_run:
        for name in folders:
            (root / name).mkdir(parents=True, exist_ok=True)
        for name, text in files.items():
            # Exclusive: what another process put there meanwhile is not written over.
            with (root / name).open("x", encoding="utf-8", newline="\n") as file:
                file.write(text)
    for name in folders:
        click.echo(f"{'would make' if dry_run else 'make'} {root / name}/")
    for name in files:
        click.echo(f"{'would write' if dry_run else 'write'} {root / name}")
    if not dry_run:
        click.echo(
            f"next: drop an export into {root / 'inbox'} and run\n  tidegate watch --once --config {root / 'tidegate.toml'}"
        )
    return 0
