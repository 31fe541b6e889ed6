"""Every file that is written beside a prop: reports as bytes under their names."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from tidegate.model.file_stem import file_stem
from tidegate.model.verdict import Verdict
from tidegate.report.html_report import html_report
from tidegate.report.json_report import json_text
from tidegate.report.text_report import text_report


def sidecars(verdict: Verdict, record: Mapping[str, Any]) -> tuple[tuple[str, bytes], ...]:
    """(file name, bytes) of the JSON report, the text report, the page and the pictures of one prop."""
    name = file_stem(verdict.prop)
    return (
        (f"{name}.tidegate.json", json_text(record).encode("ascii")),
        (f"{name}.tidegate.txt", text_report(record).encode("utf-8", "backslashreplace")),
        (f"{name}.tidegate.html", html_report(record, verdict.pictures).encode("utf-8", "backslashreplace")),
        *verdict.pictures,
    )
