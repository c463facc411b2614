"""The vise: how wide it opens, how high its jaws stand, which jaws are at hand, how much they must grip."""

from __future__ import annotations

from pydantic import ValidationError

from shared.errors import DataFileError
from shared.plan import Vise
from shared.shop.files import only, read_sections

WHAT = "vise file"


def load_vise(path: str) -> Vise:
    """The vise of a TOML or CSV file, mm; fields left out keep their defaults. Raises DataFileError with file, line, field."""
    top = only(read_sections(path, WHAT), ("",), WHAT)[""]
    top.check_names((*Vise.model_fields, "name", "source", "note"))
    given = [name for name in Vise.model_fields if top.has(name)]
    values = {name: top.numbers(name) if name == "jaw_widths" else top.number(name) for name in given}
    try:
        return Vise.model_validate(values)
    except ValidationError as error:
        first = error.errors()[0]
        name = str(first["loc"][0])
        raise DataFileError(f"{name}: {first['msg']}", "lengths are mm, above zero", top.where(name)) from None
