"""tidegate: takes in finished 3D props, measures and judges them, and delivers the approved ones.

The Python API is what `__all__` lists; everything else may move. Names load when first used, so importing the package
costs next to nothing.

    from pathlib import Path
    from tidegate import Terms, examine, list_drop, read_names

    names = read_names()
    for verdict in examine(list_drop(Path("bollard"), names), Terms(scheme=names, rule_set="furniture")):
        print(verdict.prop, verdict.verdict, [finding.message for finding in verdict.findings])
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tidegate.errors import AskedWrongly, ConfigurationFault, TidegateError, UnreadableFile
    from tidegate.load.configuration import read_configuration
    from tidegate.load.listing import list_drop
    from tidegate.load.names_file import read_names
    from tidegate.load.order_list import read_order_list
    from tidegate.load.rule_set import read_rule_set
    from tidegate.model.facts import Facts
    from tidegate.model.finding import Finding, Place
    from tidegate.model.prop import Drop, Prop
    from tidegate.model.rule_set import RuleSet
    from tidegate.model.verdict import Verdict
    from tidegate.passage import Terms, examine
    from tidegate.report.record import report_record
    from tidegate.report.schema import report_schema

__all__ = [
    "AskedWrongly",
    "ConfigurationFault",
    "Drop",
    "Facts",
    "Finding",
    "Place",
    "Prop",
    "RuleSet",
    "Terms",
    "TidegateError",
    "UnreadableFile",
    "Verdict",
    "examine",
    "list_drop",
    "read_configuration",
    "read_names",
    "read_order_list",
    "read_rule_set",
    "report_record",
    "report_schema",
]

_HOME = {
    "AskedWrongly": "errors",
    "ConfigurationFault": "errors",
    "Drop": "model.prop",
    "Facts": "model.facts",
    "Finding": "model.finding",
    "Place": "model.finding",
    "Prop": "model.prop",
    "RuleSet": "model.rule_set",
    "Terms": "passage",
    "TidegateError": "errors",
    "UnreadableFile": "errors",
    "Verdict": "model.verdict",
    "examine": "passage",
    "list_drop": "load.listing",
    "read_configuration": "load.configuration",
    "read_names": "load.names_file",
    "read_order_list": "load.order_list",
    "read_rule_set": "load.rule_set",
    "report_record": "report.record",
    "report_schema": "report.schema",
}


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"{__name__}.{_HOME[name]}"), name)
