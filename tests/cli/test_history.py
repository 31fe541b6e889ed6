from __future__ import annotations

from pathlib import Path

from tests.cli.test_recover import Studio
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


def test_nothing_says_where_it_was_looked_for_and_what_next(tmp_path: Path) -> None:
    Studio(tmp_path, "quay", "pier")
    config = ("--config", tmp_path / "tidegate.toml")
    of_one = tidegate("history", "crate", *config)
    assert (of_one.code, of_one.out) == (4, "")
    assert of_one.err.startswith("tidegate: no history of `crate` in the ledgers of quay and pier\n  help: ")
    of_all = tidegate("history", "--gate", "pier", *config)
    assert of_all.err.startswith("tidegate: no history in the ledger of pier\n  help: nothing was handed over yet; ")


def test_gates_that_share_a_tree_each_get_their_own_rows_back(tmp_path: Path) -> None:
    """The same before and after: what another gate handed over stands in its own ledger and is counted once."""
    tables = []
    for name in ("quay", "pier"):
        bench = Bench(tmp_path, name)
        bench.put(f"crate_{name}.obj")
        handed = bench.through([Outcome(f"crate_{name}", "approved", (f"crate_{name}.obj",), place=("furniture",))])
        ledger = Ledger(bench.layout.ledger)
        ledger.enter(handed)
        ledger.close()
        names = ("inbox", "work", "delivery", "returned", "aside", "kept")
        folders = "".join(f"{each} = '{getattr(bench.paths, each)}'\n" for each in names)
        tables.append(f"[[gate]]\nname = '{name}'\nrule_set = 'furniture'\n{folders}")
    (tmp_path / "tidegate.toml").write_text("\n".join(tables), "utf-8")
    config = ("--config", tmp_path / "tidegate.toml")
    before = tidegate("history", *config).out
    assert before.count("approved") == 2
    rebuilt = tidegate("history", "--rebuild", *config)
    assert (rebuilt.code, rebuilt.out) == (0, before)
    assert rebuilt.err == "gate quay: 1 rows read from the trees\ngate pier: 1 rows read from the trees\n"
