"""JSON Schema (draft 2020-12) of the sidecar report, shipped as data and checked by the tests against real reports."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from typing import Any


@cache
def report_schema() -> dict[str, Any]:
    """The schema of `report.record.report_record`."""
    import json

    text = files("tidegate.report").joinpath("tidegate-report-1.schema.json").read_text("utf-8")
    schema: dict[str, Any] = json.loads(text)
    return schema
