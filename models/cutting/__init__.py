"""A workpiece that writes down every cut: the truth of the demo parts comes from here, never from the recognizer.

A script takes a block, cuts features from it and calls `save`. Each function removes material *and* notes one feature
with the dimensions it was asked for. Rules of the record (`models/<part>.json`):

- Lengths are mm (also of a part whose file is in inches), angles degrees, directions unit vectors in the file's
  coordinates (after any turn).
- `directions` lists all from which the whole feature can be cut, the one it is cut from first. Pockets, slots and
  steps: also the far side if through, and each open side that leads straight out of the part. Holes: also the far side
  if they are one plain cylinder right through. Chamfers and rounds on a straight edge: the two faces that they join,
  along the edge where its ends are free, and a chamfer also square to its slope (a plain cutter's bottom). A planar_face lists only the side that it faces, an undercut only the
  side from which its tee or dovetail cutter comes, a boss only the side it stands on.
- The sides decide the kind (design, section 1). Rounded corners belong to their pocket and are no sides of their own.
  `open_sides`, `closed_sides` and `bottom_condition` are null where nothing is claimed: holes have no sides, edges
  and outer faces neither.
- `count` is the number of equal features that the entry stands for; each is a feature of its own in the document.
- A pocket's length and width are the longer and shorter extent of the cut region, its depth runs along the first
  direction. A step's length runs along its wall, its width from wall to open side.
- The depth of a conical blind hole is to its full diameter: the point is extra.
- A stepped hole also has `bores`: [diameter, depth below the mouth at which it ends], from the mouth inwards.
- A chamfer's width is what a drawing says, 2 of "2 x 45 degrees": along the face, not across the slope.
- One planar_face stands for all coplanar pieces that face the same way.
- `volume` is arithmetic on the cuts, which never overlap (each starts where the last one ended); null where a cut has
  no closed formula.
"""

from models.cutting.edges import bevel_edge, bevel_outline, round_edge
from models.cutting.holes import counterbore, countersink, hole, on_circle, on_grid, stepped, tilted_hole
from models.cutting.outsides import boss, enclosed_void, faced, outline, region, round_outline, tilted
from models.cutting.pockets import Island, dovetail, pocket, ring_groove, shaped_pocket, tee_slot
from models.cutting.workpiece import Workpiece

__all__ = [
    "Island",
    "Workpiece",
    "bevel_edge",
    "bevel_outline",
    "boss",
    "counterbore",
    "countersink",
    "dovetail",
    "enclosed_void",
    "faced",
    "hole",
    "on_circle",
    "on_grid",
    "outline",
    "pocket",
    "region",
    "ring_groove",
    "round_edge",
    "round_outline",
    "shaped_pocket",
    "stepped",
    "tee_slot",
    "tilted",
    "tilted_hole",
]
