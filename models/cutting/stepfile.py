"""Write a solid as STEP with a chosen schema and unit, the same bytes every time."""

from __future__ import annotations

import re
from pathlib import Path

import cadquery as cq
from OCP.IFSelect import IFSelect_RetDone
from OCP.Interface import Interface_Static
from OCP.STEPControl import STEPControl_AsIs, STEPControl_Controller, STEPControl_Writer

SCHEMAS = {"AP203": "AP203", "AP214": "AP214IS", "AP242": "AP242DIS"}
UNITS = {"mm": "MM", "inch": "INCH"}
STAMP = "2026-01-01T00:00:00"


def write_step(solid: cq.Solid, path: Path, name: str, schema: str, unit: str) -> None:
    """Write one solid; raises OSError if the kernel refuses."""
    STEPControl_Controller.Init_s()
    Interface_Static.SetCVal_s("write.step.schema", SCHEMAS[schema])
    Interface_Static.SetCVal_s("write.step.unit", UNITS[unit])
    Interface_Static.SetCVal_s("write.step.product.name", name)
    Interface_Static.SetIVal_s("write.precision.mode", 0)
    writer = STEPControl_Writer()
    writer.Transfer(solid.wrapped, STEPControl_AsIs)
    if writer.Write(str(path)) != IFSelect_RetDone:
        raise OSError(f"the kernel could not write {path}")
    path.write_text(fixed_header(path.read_text(encoding="utf-8"), name), encoding="utf-8", newline="\n")


def fixed_header(text: str, name: str) -> str:
    """The text without what differs from run to run or tells of the machine.

    That is place and time of writing, the kernel's running number of products (and where its length breaks the line),
    and AP203's creation date and author.
    """
    swaps = (
        (r"FILE_NAME\('[^']*','[^']*'", f"FILE_NAME('{name}','{STAMP}'"),
        (rf"'{re.escape(name)} \d+'", f"'{name}'"),
        (r"CALENDAR_DATE\([^)]*\)", "CALENDAR_DATE(2026,1,1)"),
        (r"LOCAL_TIME\(\d+,\d+,[^,]*,", "LOCAL_TIME(0,0,$,"),
        (r"COORDINATED_UNIVERSAL_TIME_OFFSET\([^)]*\)", "COORDINATED_UNIVERSAL_TIME_OFFSET(0,$,.EXACT.)"),
        (r"= PERSON\([^)]*\)", "= PERSON('1','','mount',$,$,$)"),
        (r"= ORGANIZATION\([^)]*\)", "= ORGANIZATION('1','telescope mount','')"),
    )
    for pattern, text_then in swaps:
        text = re.sub(pattern, text_then, text)
    return re.sub(r"= PRODUCT\([^;]*;", lambda record: re.sub(r"\n *", "", record[0]), text)
