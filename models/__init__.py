"""Demo parts: machined parts of an open-source telescope mount, each with a record of what was cut.

`models/<part>.py` cuts the part, `models/<part>.step` is the result, `models/<part>.json` the record; `python -m
models` writes them all again, byte for byte. What a record says is explained in `models/cutting/__init__.py`.

| part                  | file         | what it is there for                                                        |
| --------------------- | ------------ | --------------------------------------------------------------------------- |
| altitude_carrier      | AP214        | flagship: six sides, open pockets of 1 to 3 closed sides, window, all holes |
| altitude_side_plate   | AP242        | contoured outside, relief with an island, countersinks, triangular window   |
| azimuth_base          | AP203        | large plate of 356 faces: hole patterns, ring groove, chamfer round the top |
| dovetail_clamp        | AP203        | dovetail (undercut), counterbores on its floor, straight chamfers           |
| encoder_cover         | AP242        | turned and moved off the axes; hollow with corner and floor radii           |
| counterweight_bracket | AP214        | angle (deep step), stepped hole, slot, edge rounds, long counterbore        |
| worm_gear_housing     | AP242        | six sides, coaxial bores across a cavity, counterbore into it, island       |
| pier_adapter          | AP203        | round flange, boss on an open floor, bolt circles, chamfer on a round edge  |
| motor_bracket         | AP214, inch  | inch fractions, 82 degree countersink, through pockets                      |
| polar_wedge           | AP242        | tilted face with holes square to it: a setup off the axes                   |
| bearing_block         | AP214        | boss with a flat seat, blind stepped hole, slot on a side                   |
| tripod_hub            | AP214        | bays at 120 degrees open to a round outside                                 |
| focuser_plate         | AP242        | free-form region, seal groove, large through hole                           |
| balance_weight        | AP214        | sealed void                                                                 |
| accessory_rail        | AP203        | tee slot (undercut), blind holes facing each other, chamfers and a round    |
| cable_block           | AP214        | overlaps on purpose: more than one reading is right                         |
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from models.cutting import Workpiece

PARTS = (
    "altitude_carrier",
    "altitude_side_plate",
    "azimuth_base",
    "dovetail_clamp",
    "encoder_cover",
    "counterweight_bracket",
    "worm_gear_housing",
    "pier_adapter",
    "motor_bracket",
    "polar_wedge",
    "bearing_block",
    "tripod_hub",
    "focuser_plate",
    "balance_weight",
    "accessory_rail",
    "cable_block",
)


def build(part: str) -> "Workpiece":
    """The finished workpiece of one of PARTS; raises ImportError for another name."""
    work: Workpiece = import_module(f"models.{part}").build()
    return work
