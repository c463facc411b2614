"""A feature to be cut and the ways to cut it."""

from __future__ import annotations

from dataclasses import dataclass, field

from planner.recipes.base import Recipe
from shared.features import Feature, View


@dataclass(frozen=True)
class Way:
    """One direction that a feature can be cut from: the view and what its recipe makes of it."""

    view: View
    recipe: Recipe


@dataclass
class Work:
    """A feature to plan with its ways, by direction name in the order of its views; `side` if it finishes a stock side.

    `far`: ways from an end of a hole that shuts a part of it off itself; they serve only together with another end.
    `follows`: name of the work that cuts the feature's other end first, where it is cut from both.
    """

    feature: Feature
    ways: dict[str, Way] = field(default_factory=dict)
    side: str | None = None
    far: dict[str, Way] = field(default_factory=dict)
    follows: str | None = None
