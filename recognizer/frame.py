"""The part's own axes and its box: the file's axes where the part stands square in them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import radians, sin

from recognizer.snapshot import Snapshot
from recognizer.vector import canonical, cross, dot, length
from shared.tolerances import DEFAULT, Tolerances
from shared.units import Vector

FILE_AXES: tuple[Vector, Vector, Vector] = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))

HEAVIEST = 12
"""So many directions, the ones with the most area, may become axes."""


@dataclass(frozen=True)
class Frame:
    """Right-handed unit axes and the part's extent along each: low and high are levels (dot products) in mm."""

    axes: tuple[Vector, Vector, Vector]
    low: Vector
    high: Vector

    @cached_property
    def size(self) -> Vector:
        """Edge lengths of the box."""
        return tuple(h - b for h, b in zip(self.high, self.low, strict=True))  # type: ignore[return-value]

    @cached_property
    def volume(self) -> float:
        """Volume of the box in mm3."""
        a, b, c = self.size
        return a * b * c

    @cached_property
    def directions(self) -> list[Vector]:
        """The six main directions: +x -x +y -y +z -z of the part's own axes."""
        return [d for a in self.axes for d in (a, (-a[0], -a[1], -a[2]))]

    @cached_property
    def corners(self) -> list[Vector]:
        """The box's eight corners in the part's coordinates."""
        out = []
        for i in range(8):
            k = [self.high[j] if i >> j & 1 else self.low[j] for j in range(3)]
            out.append(tuple(sum(k[j] * self.axes[j][c] for j in range(3)) for c in range(3)))
        return out  # type: ignore[return-value]


def frame_of(snapshot: Snapshot, tol: Tolerances = DEFAULT) -> Frame:
    """The frame with the most plane and axis area along its axes; the file's own axes win a tie and near-ties."""
    weights = _weights(snapshot, tol)
    total = sum(w for _, w in weights) or 1.0
    square = sum(w for d, w in weights if any(_parallel(d, a, tol) for a in FILE_AXES))
    axes = FILE_AXES if square > 0.5 * total or not weights else _best(weights, tol)
    low, high = zip(*(level_span(snapshot, a) for a in axes), strict=True)
    return Frame(axes, low, high)  # type: ignore[arg-type]


def level_span(snapshot: Snapshot, d: Vector) -> tuple[float, float]:
    """Lowest and highest level of the part along d."""
    return snapshot.span(d)


def _parallel(a: Vector, b: Vector, tol: Tolerances) -> bool:
    return length(cross(a, b)) < sin(radians(tol.angle_deg))


def _weights(snapshot: Snapshot, tol: Tolerances) -> list[tuple[Vector, float]]:
    """Directions of plane normals and of cylinder axes, each with its area; largest first."""
    found: list[list] = []
    for f in snapshot.faces:
        if f.kind not in ("plane", "cylinder"):
            continue
        d = canonical(f.surface.axis)
        weight = f.area if f.kind == "plane" else 0.5 * f.area
        for row in found:
            if _parallel(row[0], d, tol):
                row[1] += weight
                break
        else:
            found.append([d, weight])
    return sorted(((d, w) for d, w in found), key=lambda t: (-round(t[1], 3), t[0]))


def _best(weights: list[tuple[Vector, float]], tol: Tolerances) -> tuple[Vector, Vector, Vector]:
    """The three square directions with the most area together, named nearest to the file's axes."""
    from recognizer.vector import perpendicular

    def square(a: Vector, b: Vector) -> bool:
        return abs(dot(a, b)) < sin(radians(tol.angle_deg))

    heavy = weights[:HEAVIEST]
    found = []
    for k, (z, w) in enumerate(heavy):
        for x, v in heavy[k + 1 :]:
            if square(x, z):
                rest = sum(u for d, u in weights if square(d, z) and square(d, x))
                found.append((round(w + v + rest, 3), z, x))
    if not found:
        z = weights[0][0]
        found = [(0.0, z, perpendicular(z))]
    _, z, x = max(found, key=lambda t: t[0])
    return _named([z, x, cross(z, x)])


def _named(axes: list[Vector]) -> tuple[Vector, Vector, Vector]:
    """Axes in the order and with the signs that lie nearest to x, y, z; right-handed."""
    from itertools import permutations

    order = max(permutations(axes), key=lambda p: round(sum(abs(p[i][i]) for i in range(3)), 6))
    x, y, _ = (a if a[i] >= 0 else (-a[0], -a[1], -a[2]) for i, a in enumerate(order))
    return x, y, cross(x, y)
