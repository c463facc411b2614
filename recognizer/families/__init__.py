"""The rules, in the order in which they run. Reading this tuple tells what is recognised first."""

from recognizer.families.edges.chamfer import chamfers
from recognizer.families.edges.edge_round import edge_rounds
from recognizer.families.holes.hole import holes
from recognizer.families.planar.face import box_sides, open_planes
from recognizer.families.pockets.prismatic import pockets
from recognizer.families.rest import enclosed_voids, regions

FAMILIES = (
    enclosed_voids,
    chamfers,
    edge_rounds,
    holes,
    box_sides,
    pockets,
    open_planes,
    regions,
)
