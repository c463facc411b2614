"""STEP -> features. `recognize(path)` is the whole of it."""

from __future__ import annotations

from typing import Any

__all__ = ["recognize"]


def __getattr__(name: str) -> Any:
    if name == "recognize":  # loaded on first use: the pipeline brings numpy, shapely and networkx
        from recognizer.pipeline import recognize

        return recognize
    raise AttributeError(name)
