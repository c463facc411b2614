"""planar_face: coplanar plane faces with no closed side.

True case: the top of the block, in one piece or several; a pad's top inside the box; a wide slanted plane.
Look-alike: a step's floor (a wall rises beside it); a chamfer (it breaks an edge).
"""

from __future__ import annotations

from collections import defaultdict

from recognizer.rule import Claim, Context
from recognizer.vector import dot


def box_sides(ctx: Context) -> list[Claim]:
    """One claim a side of the part's box: all plane faces that lie on it."""
    sides: dict[tuple[float, float, float], list[int]] = defaultdict(list)
    taken = ctx.claimed
    for face, d in ctx.box_faces.items():
        if face not in taken:
            sides[d].append(face)
    found = []
    for d in ctx.frame.directions:
        faces = sides.get(d)
        if faces:
            pieces = f" in {len(faces)} pieces" if len(faces) > 1 else ""
            found.append(_claim(faces, d, [f"plane on the part's box{pieces}: no material stands beyond it"]))
    return found


def open_planes(ctx: Context) -> list[Claim]:
    """One claim for each group of coplanar plane faces that are still free."""
    groups: dict[int, list[int]] = defaultdict(list)
    for f in ctx.free():
        if ctx.faces[f].kind == "plane":
            groups[ctx.graph.group[f]].append(f)
    found = []
    for faces in groups.values():
        d = ctx.faces[faces[0]].surface.axis
        square = any(abs(dot(d, a)) > 1 - 1e-6 for a in ctx.frame.axes)
        if not square and any(sign == "concave" for f in faces for _, _, sign in ctx.graph.links(f)):
            continue  # a rib's top: facing it square would cut what rises beside it
        where = "inside the part's box" if square else "askew to the part's box"
        found.append(_claim(faces, d, [f"plane {where} on which no wall rises"]))
    return found


def _claim(faces: list[int], d: tuple[float, float, float], because: list[str]) -> Claim:
    chosen = frozenset(faces)
    return Claim("planar_face", chosen, d, because, bottom=chosen)
