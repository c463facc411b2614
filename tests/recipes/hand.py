"""Hand-built features for recipe tests: no recognizer, no kernel. All seen from +z, floors at z = 0 unless said."""

from __future__ import annotations

from typing import Any

from planner.cutting import material
from planner.recipes import RecipeJob
from shared.cutters import default_cutters
from shared.features import Axis, Box, Closure, Feature, FeaturesDocument, HoleStep, Part, Side, View

UP = (0.0, 0.0, 1.0)


def job(name: str = "aluminium", allowance: float = 0.0, **more: Any) -> RecipeJob:
    """Default cutters, one material, the same allowance on every side."""
    more.setdefault("cutters", default_cutters())
    return RecipeJob(material=material(name), allowance=(allowance,) * 6, **more)


def document(*features: Feature, size: tuple[float, float, float] = (200.0, 154.0, 50.0)) -> FeaturesDocument:
    """A part of `size` with its lower corner at the origin, its axes those of the file."""
    box = Box(min=(0.0, 0.0, 0.0), max=size)
    volume = size[0] * size[1] * size[2]
    part = Part(
        file="hand.step", sha256="0" * 64, unit="mm", bounding_box=box, volume=volume, solids=1, frame_box=box,
        frame=[(1.0, 0.0, 0.0), (0.0, 1.0, 0.0), UP],
    )  # fmt: skip
    closure = Closure(stock_volume=volume, part_volume=volume, removed=0.0, unexplained=0.0, method="hand")
    return FeaturesDocument(part=part, faces=[], features=list(features), closure=closure)


def view(kind: str, depth: float, **more: Any) -> View:
    """A view from +z with its floor at z = 0."""
    more.setdefault("top", depth)
    more.setdefault("bottom", 0.0)
    return View(direction=UP, kind=kind, reachable=True, reach_share=1.0, depth=depth, **more)


def feature(seen: View, **more: Any) -> Feature:
    """A feature with one view."""
    more.setdefault("id", "F1")
    more.setdefault("faces", [1, 2])
    return Feature(kind=more.pop("kind", seen.kind), views=[seen], because=["hand-built"], **more)


def rectangle(length: float, width: float, open_sides: str = "") -> dict[str, Any]:
    """View fields of a rectangle 0..length x 0..width; open sides named by their outward sign: -x +x -y +y."""
    corners = [(0.0, 0.0, 0.0), (length, 0.0, 0.0), (length, width, 0.0), (0.0, width, 0.0)]
    ends = dict(zip(("-y", "+x", "+y", "-x"), zip(corners, corners[1:] + corners[:1], strict=True), strict=True))
    sides = [
        Side(
            open=name in open_sides.split(), faces=[] if name in open_sides.split() else [10 + i], edges=[],
            length=length if name[1] == "y" else width, start=a, end=b,
        )
        for i, (name, (a, b)) in enumerate(ends.items())
    ]  # fmt: skip
    count = sum(s.open for s in sides)
    return {
        "sides": sides, "open_sides": count, "closed_sides": 4 - count, "length": max(length, width),
        "width": min(length, width), "region_area": length * width, "outline": [corners],
    }  # fmt: skip


def hole(depth: float, *steps: tuple[str, float, float, float, float, float | None], through: bool = True,
         kind: str = "round_hole", condition: str | None = None, **more: Any) -> Feature:  # fmt: skip
    """A hole of (surface, diameter, end diameter, top, bottom, angle) steps, mouth at z = depth."""
    built = [
        HoleStep(surface=s, diameter=d, end_diameter=e, top=t, bottom=b, angle=a, faces=[i])
        for i, (s, d, e, t, b, a) in enumerate(steps)
    ]
    bottom = condition or ("through" if through else "flat")
    seen = view(kind, depth, through=through, bottom_condition=bottom)
    return feature(
        seen, faces=list(range(len(built) + (0 if through else 1))), walls=list(range(len(built))), steps=built,
        bottom=[] if through else [len(built)], axis=Axis(origin=(0.0, 0.0, depth), direction=UP),
        bottom_condition=bottom, **more,
    )  # fmt: skip


def cylinder(diameter: float, top: float, bottom: float) -> tuple[str, float, float, float, float, None]:
    """A cylinder step."""
    return ("cylinder", diameter, diameter, top, bottom, None)


def cone(
    diameter: float, end: float, top: float, bottom: float, angle: float
) -> tuple[str, float, float, float, float, float]:
    """A cone step."""
    return ("cone", diameter, end, top, bottom, angle)
