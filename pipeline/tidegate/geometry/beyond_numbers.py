"""Arithmetic on coordinates that strangers wrote: what lies beyond all numbers stays infinite or undefined, and is judged so."""

from __future__ import annotations

import numpy as np


def beyond_numbers() -> np.errstate:
    """A context in which overflow, division by nothing and undefined values pass without NumPy's warnings on stderr.

    A drop is told what is wrong with it by findings; nobody reads the warnings of a worker. Each thread needs its own.
    """
    return np.errstate(over="ignore", invalid="ignore", divide="ignore")
