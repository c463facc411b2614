"""Features as boxes with sizes, in one set of axes: what matching looks at. Ids and face numbers play no part."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import permutations, product

from shared.features import HOLE_KINDS, POCKET_KINDS, Feature, FeaturesDocument
from shared.units import Vector

SAME_MM = 0.01
"""Two lengths closer than this are one: above the noise of files and turns, below what any drawing tolerates."""
SAME_FREE_MM = 0.05
"""The same for faces whose levels come from facets: free forms, tori, spheres."""
EXACT = ("plane", "cylinder", "cone")

Matrix = tuple[Vector, Vector, Vector]
"""Three rows."""
IDENTITY: Matrix = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))


@dataclass(frozen=True)
class Shape:
    """One feature: its box (low, high), the sizes that its kind has, the directions it is cut from (rounded units)."""

    id: str
    kind: str
    low: Vector
    high: Vector
    sizes: tuple[tuple[str, float], ...]
    directions: tuple[Vector, ...]
    exact: bool

    @property
    def extent(self) -> Vector:
        """Edge lengths of the box."""
        return sub(self.high, self.low)

    @property
    def centre(self) -> Vector:
        """Middle of the box."""
        return tuple((a + b) / 2.0 for a, b in zip(self.low, self.high, strict=True))  # type: ignore[return-value]

    @property
    def tolerance(self) -> float:
        """Mm within which its levels are equal."""
        return SAME_MM if self.exact else SAME_FREE_MM

    @property
    def signature(self) -> tuple[object, ...]:
        """Equal for features of equal kind and size however they lie, but for rounding at a step's edge."""
        rounded = tuple((name, round(value, 1)) for name, value in self.sizes)
        return (self.kind, rounded, tuple(sorted(round(e, 1) for e in self.extent)))

    def laid(self, turn: Matrix, offset: Vector = (0.0, 0.0, 0.0)) -> Shape:
        """The shape turned (a signed permutation of axes) and moved."""
        a, b = apply(turn, self.low), apply(turn, self.high)
        low = tuple(min(x, y) + o for x, y, o in zip(a, b, offset, strict=True))
        high = tuple(max(x, y) + o for x, y, o in zip(a, b, offset, strict=True))
        directions = tuple(_rounded(apply(turn, d)) for d in self.directions)
        return Shape(self.id, self.kind, low, high, self.sizes, directions, self.exact)  # type: ignore[arg-type]


def shapes_of(document: FeaturesDocument) -> tuple[list[Shape], list[str]]:
    """Shapes in the part's own axes (levels along part.frame); ids of features whose faces say no place."""
    faces = {f.index: f for f in document.faces}
    frame: Matrix = tuple(document.part.frame)  # type: ignore[assignment]
    shapes, without = [], []
    for feature in document.features:
        boxes = [faces[i].box for i in feature.faces if i in faces and faces[i].box]
        if not boxes:
            without.append(feature.id)
            continue
        low = tuple(min(b.min[k] for b in boxes if b) for k in range(3))
        high = tuple(max(b.max[k] for b in boxes if b) for k in range(3))
        exact = all(faces[i].surface in EXACT for i in feature.faces if i in faces)
        directions = tuple(_rounded(apply(frame, v.direction)) for v in feature.views if v.reachable)
        shapes.append(Shape(feature.id, feature.kind, low, high, _sizes(feature), directions, exact))  # type: ignore[arg-type]
    return shapes, without


def _sizes(feature: Feature) -> tuple[tuple[str, float], ...]:
    """Dimensions of the document, and of a hole the diameters of its steps: a tap drill's point, a cone's end."""
    sizes = dict(feature.dimensions)
    if feature.kind in HOLE_KINDS:
        for k, step in enumerate(feature.steps, 1):
            sizes |= {f"step_{k}_diameter": step.diameter, f"step_{k}_end_diameter": step.end_diameter}
    view = feature.views[0] if feature.views else None
    if feature.kind in POCKET_KINDS and view:
        sizes |= {n: v for n, v in (("corner_radius", view.corner_radius), ("floor_radius", view.floor_radius)) if v}
    return tuple(sorted(sizes.items()))


def rotations(*, mirrored: bool = False) -> list[Matrix]:
    """The 24 turns that take axes to axes, the identity first; with `mirrored` the 24 that swap hands instead."""
    found: list[Matrix] = []
    for order in permutations(range(3)):
        for signs in product((1.0, -1.0), repeat=3):
            rows = tuple(tuple(signs[i] if k == order[i] else 0.0 for k in range(3)) for i in range(3))
            if (determinant(rows) < 0) == mirrored:  # type: ignore[arg-type]
                found.append(rows)  # type: ignore[arg-type]
    return sorted(found, key=lambda m: (angle(m), [-c for row in m for c in row]))


def determinant(m: Matrix) -> float:
    """Determinant of three rows."""
    (a, b, c), (d, e, f), (g, h, i) = m
    return a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g)


def angle(m: Matrix) -> float:
    """Degrees that a rotation turns by."""
    return math.degrees(math.acos(max(-1.0, min(1.0, (m[0][0] + m[1][1] + m[2][2] - 1.0) / 2.0))))


def apply(m: Matrix, v: Vector) -> Vector:
    """Rows times a vector."""
    return tuple(sum(a * b for a, b in zip(row, v, strict=True)) + 0.0 for row in m)  # type: ignore[return-value]


def times(a: Matrix, b: Matrix) -> Matrix:
    """Product of two matrices."""
    columns = transposed(b)
    return tuple(apply(columns, row) for row in a)  # type: ignore[return-value]


def transposed(m: Matrix) -> Matrix:
    """Rows and columns swapped: the inverse of a rotation."""
    return tuple(zip(*m, strict=True))  # type: ignore[return-value]


def sub(a: Vector, b: Vector) -> Vector:
    """Difference."""
    return tuple(x - y for x, y in zip(a, b, strict=True))  # type: ignore[return-value]


def length(v: Vector) -> float:
    """Length of a vector."""
    return math.sqrt(sum(c * c for c in v))


def _rounded(d: Vector) -> Vector:
    return tuple(round(c, 4) + 0.0 for c in d)  # type: ignore[return-value]
