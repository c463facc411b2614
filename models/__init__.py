"""Demo parts: machined parts of an open-source telescope mount, each with a record of what was cut.

`models/<part>.py` cuts the part, `models/<part>.step` is the result, `models/<part>.json` the record; `python -m
models` writes them all again, byte for byte. What a record says is explained in `models/cutting/__init__.py`.

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
