"""The one list of case families, and how a part of one is made."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from zlib import crc32

import cadquery as cq
import numpy as np

from tests.random_parts import edges, holes, pockets, turned, undercuts
from tests.random_parts.build import Block
from tests.random_parts.truth import Expected

FAMILIES: tuple[Callable[[Block], None], ...] = (
    pockets.pocket_in_pocket,
    pockets.island_full,
    pockets.island_low,
    pockets.pocket_radii,
    pockets.drafted_pocket,
    pockets.obround,
    pockets.arc_slot,
    pockets.ring_groove,
    pockets.open_sides,
    pockets.slanted_step,
    pockets.thin_rib,
    pockets.sealed_void,
    pockets.boss_on_face,
    holes.hole_through_floor,
    holes.hole_through_wall,
    holes.cross_holes,
    holes.coaxial_gap,
    holes.counterbore_below,
    holes.countersink,
    holes.stepped_hole,
    holes.tilted_hole,
    holes.half_hole,
    holes.round_outside,
    undercuts.tee_slot,
    undercuts.dovetail_slot,
    undercuts.engraving,
    undercuts.freeform_patch,
    edges.chamfered_edge,
    edges.rounded_edges,
    edges.chamfered_hole,
    edges.chamfered_mouth,
    undercuts.blind_tee,
    undercuts.male_dovetail,
    turned.equal_grooves,
    turned.belt_groove,
    turned.relief_groove,
    turned.ball_race,
    turned.face_rings,
    turned.dovetail_ring,
    turned.ball_sockets,
    turned.arc_slots,
    turned.woodruff_key,
)
CASES = {f.__name__: f for f in FAMILIES}


def build(case: str, seed: int) -> Block:
    """The part and its truth; the same case and seed give the same part. Raises KeyError for an unknown case."""
    block = Block(np.random.RandomState((crc32(case.encode()) + seed) % 2**32))
    CASES[case](block)
    return block


def make(case: str, seed: int, folder: Path) -> tuple[Path, list[Expected]]:
    """A part as a STEP file in `folder`, and what was cut in it."""
    block = build(case, seed)
    path = folder / f"{case}_{seed}.step"
    cq.exporters.export(cq.Workplane(block.shape), str(path))
    return path, block.truth
