"""Names a chain of bores: round_hole, counterbore_hole, countersunk_hole or stepped_hole.

True cases: one cylinder; a wider flat-floored mouth and a narrower bore behind it; a cone and a bore; three diameters.
Look-alikes: an obround's round end and a pocket's corner (walls run smoothly into them: not bores); a ring groove
(an island stands on the floor: a closed_pocket); a cone that widens the mouth by less than a quarter (a chamfer).
"""

from __future__ import annotations

from recognizer.families.holes.bores import Bore
from recognizer.families.holes.chain import Chain, chains
from recognizer.families.holes.groove import groove_claim, grooves_of
from recognizer.rule import Claim, Context
from recognizer.vector import along, dot
from shared.features import HoleStep

LEAST_SINK_DEG = 30.0
"""Included angle below which a cone at the mouth is a tapered bore, a pipe thread's or a taper reamer's: those are all
slimmer than 20 degrees, and countersinks begin with 60 (common practice, no source)."""


def holes(ctx: Context) -> list[Claim]:
    """One claim a hole, and one for each groove in its wall, which no drill or boring tool of the hole's size cuts."""
    found = []
    for chain in chains(ctx):
        grooves = grooves_of(chain)
        whole, top = set(chain.faces), max(chain.level(b)[1] for b in chain.bores)
        found += [groove_claim(ctx, chain, g, top) for g in grooves]
        if grooves:
            apart = {f for c in found for f in c.faces} & whole
            chain.bores = [b for b in chain.bores if b not in grooves]
            chain.shoulders = [f for f in chain.shoulders if f not in apart]
        found.append(_claim(ctx, chain))
        flat = (f for f in chain.floors if ctx.faces[f].kind == "plane")
        ctx.taken_floors.update((f, chain.faces - {f}) for f in flat)
    return found


def _claim(ctx: Context, chain: Chain) -> Claim:
    steps = _merged([_step(chain, b) for b in chain.bores])
    kind, why = _kind(steps)
    through = not chain.floors
    bottom, bottom_why = _bottom(ctx, chain)
    top, low = _top(ctx, chain, steps), min([s.bottom for s in steps] + _floor_levels(ctx, chain))
    depth = top - min(s.bottom for s in steps)
    surface = chain.bores[0].surface
    foot = along(surface.origin, chain.out, top - dot(surface.origin, chain.out))
    return Claim(
        kind,
        chain.faces,
        chain.out,
        [why, bottom_why],
        bottom=frozenset(chain.floors),
        walls=frozenset(f for b in chain.bores for f in b.faces),
        blends=frozenset(chain.shoulders),
        through=through,
        bottom_condition=bottom,
        profile="circular_closed",
        dimensions=_dimensions(kind, steps, depth, low),
        steps=steps,
        axis_point=foot,
    )


def _step(chain: Chain, b: Bore) -> HoleStep:
    low, high = chain.level(b)
    at_top, at_low = chain.end_radius(b, True), chain.end_radius(b, False)
    cone = b.surface.kind == "cone"
    return HoleStep(
        surface="cone" if cone else "cylinder",
        diameter=2 * max(at_top, at_low),
        end_diameter=2 * min(at_top, at_low),
        angle=2 * abs(b.surface.half_angle) if cone else None,
        top=high,
        bottom=low,
        faces=sorted(b.faces),
    )


def _merged(steps: list[HoleStep]) -> list[HoleStep]:
    """Equal neighbours become one: a bore cut apart by another feature is one bore."""
    out: list[HoleStep] = []
    for s in steps:
        if out and out[-1].surface == s.surface == "cylinder" and abs(out[-1].diameter - s.diameter) < 1e-3:
            last = out[-1]
            out[-1] = last.model_copy(
                update={"bottom": min(last.bottom, s.bottom), "faces": sorted(last.faces + s.faces)}
            )
        else:
            out.append(s)
    return out


def _kind(steps: list[HoleStep]) -> tuple[str, str]:
    if len(steps) == 1 and steps[0].surface == "cylinder":
        return "round_hole", f"full cylinder of diameter {steps[0].diameter:.4g} mm, material outside"
    taper = steps[0].angle is not None and steps[0].angle < LEAST_SINK_DEG
    if len(steps) == 2 and steps[1].surface == "cylinder" and steps[0].diameter > steps[1].diameter and not taper:
        if steps[0].surface == "cylinder":
            return (
                "counterbore_hole",
                f"two coaxial cylinders, the mouth wider: {steps[0].diameter:.4g} over {steps[1].diameter:.4g} mm",
            )
        return (
            "countersunk_hole",
            f"a cone of {steps[0].angle:.4g} degrees, {steps[0].diameter:.4g} mm wide, over a bore of {steps[1].diameter:.4g} mm",
        )
    sizes = ", ".join(f"{s.diameter:.4g}" for s in steps)
    return "stepped_hole", f"{len(steps)} coaxial cylinders and cones from the mouth inwards: {sizes} mm"


def _bottom(ctx: Context, chain: Chain) -> tuple[str, str]:
    if not chain.floors:
        return "through", "both ends are open: a through hole"
    kinds = {ctx.faces[f].kind for f in chain.floors}
    if "sphere" in kinds:
        return "spherical", "closed by a sphere"
    if "cone" in kinds:
        return "conical", "closed by a cone: a drill's point"
    if any(ctx.faces[f].kind == "torus" for f in chain.shoulders):
        return "flat_with_radius", "closed by a flat floor with a radius"
    return "flat", "closed by a flat floor"


def _top(ctx: Context, chain: Chain, steps: list[HoleStep]) -> float:
    """Level of the mouth, over a mouth chamfer or round that was set aside."""
    top = max(s.top for s in steps)
    own = chain.faces
    for claim in ctx.claims:
        if claim.kind not in ("chamfer", "edge_round") or not any(
            n in own for f in claim.faces for n, _, _ in ctx.graph.links(f)
        ):
            continue
        face = next(iter(claim.faces))
        if ctx.faces[face].kind in ("cone", "torus"):
            low, high = ctx.extent(face, chain.out)
            if abs(low - top) < 4 * ctx.tol.length_mm:
                top = high
    return top


def _floor_levels(ctx: Context, chain: Chain) -> list[float]:
    return [ctx.extent(f, chain.out)[0] for f in chain.floors]


def _dimensions(kind: str, steps: list[HoleStep], depth: float, low: float) -> dict[str, float]:
    if kind == "counterbore_hole":
        return {
            "diameter": steps[1].diameter,
            "depth": depth,
            "counterbore_diameter": steps[0].diameter,
            "counterbore_depth": depth - (steps[0].bottom - min(s.bottom for s in steps)),
        }
    if kind == "countersunk_hole":
        return {
            "diameter": steps[1].diameter,
            "depth": depth,
            "countersink_diameter": steps[0].diameter,
            "countersink_angle": steps[0].angle or 0.0,
        }
    if kind == "round_hole":
        return {"diameter": steps[0].diameter, "depth": depth}
    return {"diameter": min(s.end_diameter for s in steps), "depth": depth, "mouth_diameter": steps[0].diameter}
