"""The arithmetic of a whole plan checked by hand: the balance weight of the telescope mount, 60 x 40 x 30 mm, aluminium.

Every operation is written out from the part's drawing, with no function of the planner. Formulas: checks.md section 4
(n = 1000 vc / (pi D), vf = n z fz, approach of a face mill on centre, drill point 0.3004 D at 118 degrees, kc = kc1
h^-mc, Pc = ap ae vf kc / (60e6 eta)). Starting values vc, fz, kc1 are shared/tables/*.csv: common practice or from
memory, as said there. Rapids go at 20 m/min: 10 mm above what is cut, down and up once a level, and across from place
to place with the same cutter; a change takes 0.1 min. Side milling comes in and goes out over sqrt(d (D - d)), as in
checks.md 4, and 2 mm of air.
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from planner import plan
from recognizer import recognize

PART = Path(__file__).parents[2] / "models" / "balance_weight.step"
RAPID, CHANGE = 20000.0, 0.1


@pytest.fixture(scope="module")
def result():
    return plan(recognize(PART))


def rapids(strokes, height):
    return strokes * 2.0 * (height + 10.0) / RAPID


def by_hand():
    """Setup by setup: (name, cutter diameter, path in mm, feed in mm/min, minutes, way across in mm)."""
    n50 = 1000 * 500 / (math.pi * 50)  # 3183 rev/min
    v50 = n50 * 4 * 0.15  # 1910 mm/min: 4 inserts, 0.15 mm each
    n20 = 1000 * 300 / (math.pi * 20)  # 4775 rev/min
    v20 = n20 * 4 * 0.15  # 2865 mm/min: fz 0.008 D is capped at 0.15
    n14 = 1000 * 300 / (math.pi * 14)  # 6821 rev/min
    v14 = n14 * 4 * 0.008 * 14  # 3056 mm/min
    n4 = 1000 * 70 / (math.pi * 4.2)  # 5305 rev/min, for the spot (4.2 mm wide) and for the drill
    spot, drill = n4 * 0.014 * 4.2, n4 * 0.02 * 4.2  # 312 and 446 mm/min
    vee = 12000 * 4 * 0.008 * 0.5 * 10  # 1920 mm/min: the spindle's top speed, feed by half the cutter's 10 mm

    approach = (50 - math.sqrt(50**2 - 44**2)) / 2  # 13.13 mm: 40 mm face and 2 mm of raw rim on either side
    face = (60 + 2 * 2) + 2 * (approach + 2)  # 94.25 mm
    facing = ("face", 50.0, face, v50, face / v50 + rapids(1, 2), 0)

    def side(length, apart, corners=0):
        """Two raw sides 31 mm high (1 mm past the bottom), `apart` from each other: 4 levels of at most 10 mm each, 1.7 mm
        deep, then one level of 0.3 to size. The cutter goes across to the other side three times. Each corner of the block
        that is turned costs a diameter and 2 mm of air at both ends."""
        rough = length + 2 * 2 + 2 * (math.sqrt(1.7 * (20 - 1.7)) + 2)  # the raw rim at both ends, in and out
        finish = length + 2 * 2 + 2 * (math.sqrt(0.3 * (20 - 0.3)) + 2) + corners * (20 + 4)
        out = []
        for name, path, levels in (("rough outside", 4 * rough, 4), ("finish outside", finish, 1)):
            for _ in range(2):
                across = apart if out else 0
                out.append((name, 20.0, path, v20, path / v20 + rapids(levels, 30) + across / RAPID, across))
        return out

    # One ring 0.3 mm off the walls: 16 - 14 - 0.6 = 1.4 wide, from 2 mm of raw rim at the one end to that at the other,
    # less 0.3 (a ring keeps its distance all round); then in and out, each a radius and 2 mm.
    rough_slot = 2 * (40 + 2 * 2 - 2 * 0.3) + 2 * 1.4 + 14 + 2 * 2
    floor = 2 * (40 - 2 * 0.1) + 2 * 1.8 + 14 + 2 * 2  # the same 0.1 mm off the walls, the raw rim is gone
    walls = 2 * (40 + 2 * math.pi / 2 * 7)  # each wall, in and out by a quarter circle of half the diameter
    walls += 4 * (14 + 4)  # and round the four corners at the slot's ends
    slot = [
        ("rough slot", 14.0, rough_slot, v14, rough_slot / v14 + rapids(1, 5.8), 0),
        ("finish floor", 14.0, floor, v14, floor / v14 + rapids(1, 0.2), 0),
        ("finish walls", 14.0, walls, v14, walls / v14 + rapids(1, 6), 0),
    ]
    chain = 20 + 40 + 20  # four holes at the corners of 40 x 20, the nearest next
    down = 2.1 + 2  # a 90 degree spot is half as deep as wide; 2 mm of approach
    point = 4.2 / (2 * math.tan(math.radians(59)))  # 1.26 mm
    through = 12 + point + 2
    holes = [
        ("spot", 6.0, 4 * down, spot, 4 * down / spot + rapids(4, 2.1) + chain / RAPID, chain),
        ("drill", 4.2, 4 * through, drill, 4 * through / drill + rapids(4, 12) + chain / RAPID, chain),
    ]
    top = 4 * 22 + 2 * 40 + 4 * math.pi * 4.2 + 10 * 4  # long edges beside the slot, its two, four mouths; 4 mm each
    ends = 2 * 16 + 2 * 4  # the slot's ends, one level below
    top += 2 * 40 + 2 * 4  # and the two edges over the ends: all four sides are at size by then
    rim = 2 * 40 + 2 * 4 + 2 * 60 + 2 * 4  # the ends, and the long edges ahead of their sides, which are still raw
    break_top = ("break edges", 0.01, top + ends, vee, (top + ends) / vee + 2 * rapids(1, 0.7), 0)
    break_rim = ("break edges", 0.01, rim, vee, rim / vee + rapids(1, 0.7), 0)
    first = [facing, *side(40, 60), break_rim]
    second = [facing, *side(60, 40, corners=2), *slot, *holes, break_top]
    return first, second


def test_every_operation(result):
    """Same operations, cutters, paths, feeds and minutes as by hand."""
    assert not result.proof.checker
    for setup, expected in zip(result.setups, by_hand(), strict=True):
        assert [(op.name, op.tool.DC) for op in setup.operations] == [(name, dc) for name, dc, *_ in expected]
        for op, (_, _, path, feed, minutes, across) in zip(setup.operations, expected, strict=True):
            assert op.path_length == pytest.approx(path, rel=1e-3), op.name
            assert op.rapid_length == pytest.approx(across, abs=0.01), op.name
            assert op.feed == pytest.approx(feed, rel=1e-6), op.name
            assert op.minutes == pytest.approx(minutes, rel=1e-3), op.name


def test_the_total(result):
    """Changes: 2 in the first setup (3 cutters), 6 in the second (the chamfer cutter comes out first)."""
    first, second = by_hand()
    minutes = [sum(row[4] for row in first) + 2 * CHANGE, sum(row[4] for row in second) + 6 * CHANGE]
    assert [s.minutes for s in result.setups] == pytest.approx(minutes, rel=1e-3)
    assert result.totals.minutes == pytest.approx(sum(minutes), rel=1e-3)
    assert result.totals.minutes == pytest.approx(2.170, abs=0.01)


def test_power(result):
    """10 mm deep, 1.7 mm over, 2865 mm/min: mean chip 0.15 sqrt(1.7/20) = 0.0437 mm, kc 1602 N/mm2, 1.63 kW."""
    kc = 780 * (0.15 * math.sqrt(1.7 / 20)) ** -0.23
    power = 10 * 1.7 * 2864.8 * kc / (60e6 * 0.8)
    op = next(op for op in result.setups[0].operations if op.name == "rough outside")
    assert op.power == pytest.approx(power, rel=1e-3) == pytest.approx(1.63, abs=0.01)
