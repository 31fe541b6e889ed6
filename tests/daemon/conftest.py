"""The daemon's tests use the same kind of temporary folder as the gate's."""

from tests.gate.conftest import tmp_path

__all__ = ["tmp_path"]
