"""What cutters reach of a part, or the means to find it out, carried along with its features document but no part of it."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from shared.cutters import CutterTable
    from shared.reach import ReachDocument

ALONE = "the features document came without the part"
Asked = Callable[["CutterTable"], "ReachDocument"]


class CarriedReach:
    """A reach document, the means to make one, or words that say why there is none.

    As a carried shape it is not written to JSON, never makes documents differ, and stays behind where a document is
    copied to another process.
    """

    def __init__(self, source: ReachDocument | Asked | str = ALONE) -> None:
        self._source = source

    def by(self, table: CutterTable) -> tuple[ReachDocument | None, str]:
        """(the reach document for a shop's cutters, or None; why there is none). A plan is better unchecked than not made:
        what goes wrong in the analysis is said, not raised.
        """
        if isinstance(self._source, str):
            return None, self._source
        if not callable(self._source):
            return self._source, ""
        try:
            return self._source(table), ""
        except Exception as error:
            return None, f"the reach analysis failed ({type(error).__name__}: {error})"

    def __eq__(self, other: object) -> bool:
        return isinstance(other, CarriedReach)

    __hash__ = None  # type: ignore[assignment]

    def __deepcopy__(self, memo: Any) -> CarriedReach:
        return self

    def __getstate__(self) -> dict[str, Any]:
        return {"_source": ALONE if callable(self._source) else self._source}
