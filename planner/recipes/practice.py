"""Steps, allowances and limits of milling that every recipe shares: common practice, to be replaced by your own."""

from __future__ import annotations

import math

ROUGH_AXIAL = 0.5
"""Axial step of roughing over the diameter; common practice, no source."""
ROUGH_RADIAL = 0.5
"""Radial step of roughing over the diameter; common practice, no source."""
FULL_WIDTH_AXIAL = 0.25
"""Axial step over the diameter where the cutter is buried at full width, as in a slot of its own width: it then takes off
as much a mm of way as at half width and half the diameter deep; common practice, no source."""
FLOOR_RADIAL = 0.6
"""Radial step of floor finishing over the diameter; common practice, no source."""
SIDE_ALLOWANCE = 0.3
"""Mm that roughing leaves on walls; common practice, no source."""
FLOOR_ALLOWANCE = 0.2
"""Mm that roughing leaves on a floor; common practice, no source."""
BREAK_THROUGH = 1.0
"""Mm that a through pocket is cut past its bottom; common practice, no source."""
CORNER_SHARE = 0.9
"""Largest cutter radius over corner radius for a finishing cutter that still turns in the corner; common practice."""
HELIX_HOLE = 1.2
"""Smallest diameter of a helix entry over the cutter's; 1.2 to 1.8 is common practice, no source."""
BULGE = 1.0 - 1.0 / math.sqrt(2.0)
"""Allowance over (floor radius - RE) at which a cutter with a smaller RE just misses the fillet: geometry at 45 deg."""
CORNERS_ONLY = 2.0
"""Times the finest cutter's diameter from which a larger one finishes the walls first, and leaves it the corners: a thin
cutter along a whole wall takes longer and bends more; common practice, no source."""
RADII_ONLY = 4.0
"""The same where corners have a radius that the finest cutter turns in: one contour by it looks better, and is only given up
for a cutter that is much thinner, or slender; common practice, no source."""
MOST_LEFT = 0.5
"""Share of a region that the roughing cutter may leave to the smaller ones: a larger one that finds room in a few corners
only takes a helix for each of them; common practice, no source."""
NARROW = 6.0
"""Mm: gaps up to this are cut full width where allowances would cost a fifth of the diameter; common practice."""
SMALLEST_FOR_SHARP = 3.0
"""Mm: below this no cutter is sent into sharp corners, that stay uncut whatever its size; common practice."""
WALLED = ("slot", "open_pocket", "closed_pocket")
"""Kinds whose region lies between walls: the first pass cuts full width."""
NOTHING = 0.01
"""Mm2 of plan area that is chords against arcs, not material."""
NOTICED = 0.5
"""Mm2 of plan area in corners without a known radius, as of letters, from which a smaller cutter is sent there."""
USUAL_BALL = 10.0
"""Largest ball end mill used where nothing limits it, mm: common practice, no source."""
CUSP = 0.01
"""Height in mm of the cusps between ball passes; common practice for a finish, no source."""
LEAN_STEP_LARGEST = 2.0
"""Mm a level at most along a leaning wall, whatever the edge radius; common practice, no source."""
REAL_GAP = 0.5
"""Mm: a narrowest gap below the smallest usual cutter, in a region that takes one ten times as wide, is a sliver of the
outline (a tangent wall, chords against arcs), not a passage: taken as unknown; common practice, no source."""
LEAN_STEP_FLAT = 0.1
"""Mm a level of a flat end mill along a leaning wall, where each level leaves a stair; common practice, no source."""
CLEARANCE = 10.0
"""Mm of the clearance plane above the stock's top, and of each rapid retract above a cut's in the time estimate; common practice, no source."""
