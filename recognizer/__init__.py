"""STEP -> features, and what of the part cutters reach. `recognize(path)` and `reach(path)` are the whole of it."""

from __future__ import annotations

from typing import Any

__all__ = ["reach", "recognize"]


def __getattr__(name: str) -> Any:
    if name == "recognize":  # loaded on first use: the pipeline brings numpy, shapely and networkx
        from recognizer.pipeline import recognize

        return recognize
    if name == "reach":
        from recognizer.access import reach

        return reach
    raise AttributeError(name)
