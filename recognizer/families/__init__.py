"""The rules, in the order in which they run. Reading this tuple tells what is recognised first."""

from recognizer.families.edges.chamfer import chamfers, late_chamfers
from recognizer.families.edges.edge_round import edge_rounds
from recognizer.families.holes.hole import holes
from recognizer.families.outside.profile import outside_profiles
from recognizer.families.planar.face import box_sides, open_planes
from recognizer.families.pockets.prismatic import pockets
from recognizer.families.rest import enclosed_voids, regions
from recognizer.families.undercuts.rings import ring_grooves
from recognizer.families.undercuts.slots import undercut_slots

FAMILIES = (
    enclosed_voids,
    outside_profiles,
    chamfers,
    edge_rounds,
    holes,
    late_chamfers,
    box_sides,
    ring_grooves,
    undercut_slots,
    pockets,
    open_planes,
    regions,
)
