from __future__ import annotations

from pathlib import Path

from tests.gate.bench import Bench
from tests.support.command_line import tidegate
from tidegate.gate.ledger import Ledger
from tidegate.gate.outcome import Outcome


def test_the_history_of_one_prop_says_why_and_that_of_all_is_a_line_each(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    bench.put("crate/crate.obj")
    reason = "crate returned under the rule set furniture: 1 error, first uvs-missing"
    (back,) = bench.through([Outcome("crate", "returned", ("crate.obj",), reason=reason)])
    with_ledger = Ledger(bench.layout.ledger)
    with_ledger.enter([back])
    with_ledger.close()
    names = ("inbox", "work", "delivery", "returned", "aside", "kept")
    folders = "".join(f"{name} = '{getattr(bench.paths, name)}'\n" for name in names)
    (tmp_path / "tidegate.toml").write_text(f"[[gate]]\nname = 'harbour'\nrule_set = 'furniture'\n{folders}", "utf-8")
    row = f"2026-11-25T12:00:00Z  crate                    returned  {back.at}\n"
    one = tidegate("history", "crate", "--config", tmp_path / "tidegate.toml")
    assert one.out == row + "  under the rule set furniture: 1 error, first uvs-missing\n"
    assert tidegate("history", "--config", tmp_path / "tidegate.toml").out == row
