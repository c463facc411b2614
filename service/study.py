"""All that is found out about one part, in the process that reads it: bytes in, documents out.

Front doors that serve many parts (batch, HTTP) send a Study to a worker process, here or on another machine, so what
it needs travels with it: the job and the bytes of the files that the job names.
"""

from __future__ import annotations

import json
import tempfile
from dataclasses import dataclass, field
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any

from service.blank import with_stock_note
from shared.carried import CarriedReach
from shared.errors import SidewiseError
from shared.features import Box, FeaturesDocument
from shared.mesh import Mesh, packed
from shared.names import readable
from shared.plan import Job, PlanDocument
from shared.reach import ReachDocument
from shared.shape import CarriedShape, Shape

ROOMS = ("recognizer", "planner", "shared", "service")


@dataclass(frozen=True)
class Attachment:
    """A file that a job names: the job's field, the file's name and its bytes."""

    field: str
    name: str
    data: bytes


@dataclass(frozen=True)
class Study:
    """What is wanted of each part.

    job: the Job as JSON text, or None for features only. quantities: how many are made at once, where a quote is wanted
    too; an attachment of the field `rates` holds the shop's.
    """

    job: str | None = None
    attachments: tuple[Attachment, ...] = field(default_factory=tuple)
    quantities: tuple[int, ...] = ()

    def fingerprint(self) -> str:
        """Names what the answer depends on beside the part: the job, its files and the code that computes."""
        digest = sha256((self.job or "features only").encode())
        digest.update(repr(self.quantities).encode())
        for a in self.attachments:
            digest.update(f"\0{a.field}\0{a.name}\0{sha256(a.data).hexdigest()}".encode())
        digest.update(code_fingerprint().encode())
        return digest.hexdigest()


def study_of(job: Job | None, rates: str = "", quantities: tuple[int, ...] = ()) -> Study:
    """The study of a job, with the files it names and the rates file read in. Raises OSError where one cannot be read."""
    if job is None:
        return Study()
    attachments = [
        Attachment(name, readable(Path(value).name), Path(value).read_bytes())
        for name in FILE_FIELDS
        if (value := getattr(job, name, None)) and Path(str(value)).is_file()
    ]
    if rates:
        attachments.append(Attachment("rates", readable(Path(rates).name), Path(rates).read_bytes()))
    return Study(job.to_json(), tuple(attachments), quantities)


FILE_FIELDS = ("tools", "machine", "material_file", "notes")
"""Fields of a Job that may hold the path of a file."""
ATTACHED = (*FILE_FIELDS, "rates", "stock")
"""All files that may come with a job: those, what the shop charges, and a STEP file of the stock."""


@cache
def code_fingerprint() -> str:
    """Of all our code and tables: results of another version are not taken for this one's."""
    root = Path(__file__).resolve().parent.parent
    digest = sha256()
    for room in ROOMS:
        for path in sorted((root / room).rglob("*")):
            if path.suffix in (".py", ".csv"):
                digest.update(path.relative_to(root).as_posix().encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()


def study_part(data: bytes, name: str, study: Study) -> dict[str, str]:
    """The documents of one part as JSON text by name: features, and what the study asks for of plan, reach and quote.

    Raises what features_text() and plan_text() raise. Runs in a worker process.
    """
    document = _features(data, name)
    out = {"features": document.to_json()}
    if study.job is None:
        return out
    reach, why = _reach(document, study)
    if reach is not None:
        reach = reach.model_copy(update={"part": document.part})
        out["reach"] = reach.to_json()
    out["plan"] = _plan(out["features"], study, document.shape, reach or why)
    if study.quantities:
        rates = next((a for a in study.attachments if a.field == "rates"), None)
        out["quote"] = quote_text(out["features"], out["plan"], study.quantities, rates)
    return out


def _reach(document: FeaturesDocument, study: Study) -> tuple[ReachDocument | None, str]:
    """The part's reach document by the study's cutters, where its job asks for one; else why there is none."""
    from shared.cutters import load_cutters

    if not Job.model_validate_json(study.job or "{}").reach:
        return None, "not asked for"
    tools = next((a for a in study.attachments if a.field == "tools"), None)
    with tempfile.TemporaryDirectory(prefix="sidewise-") as scratch:
        return document.reach_by(load_cutters(_laid(tools, Path(scratch)) if tools else None))


def features_text(data: bytes, name: str, solid: int | None = None) -> str:
    """The features document as JSON text.

    data: the STEP file's bytes. name: its file name, as the document says it. Raises what recognize() raises. Runs in
    a worker process.
    """
    from recognizer.pipeline import uncollected

    with uncollected():
        return _features(data, name, solid).to_json()


def _features(data: bytes, name: str, solid: int | None = None) -> FeaturesDocument:
    from recognizer import recognize

    document = recognize(data, solid=solid)
    return document.model_copy(update={"part": document.part.model_copy(update={"file": name})})


def mesh_bytes(data: bytes, solid: int | None = None) -> bytes:
    """The part as triangles and lines (shared/mesh.py). Runs in a worker process."""
    from recognizer.reading import read_mesh

    with tempfile.TemporaryDirectory(prefix="sidewise-") as scratch:
        path = Path(scratch) / "part.step"
        path.write_bytes(data)
        return read_mesh(path, solid=solid).to_bytes()


def workpieces_bytes(features: str, plan: str, data: bytes, solid: int | None = None) -> bytes:
    """The workpiece raw and after each setup, and what is left and gouged, as packed meshes (shared/mesh.py).

    features, plan: the documents' JSON texts. data: the STEP file's bytes. Of each are said `name`, `volume` in
    mm3, `triangles` and `jaws`. Raises what the kernel's reading raises. Runs in a worker process.
    """
    from recognizer.reading import read_shape

    with tempfile.TemporaryDirectory(prefix="sidewise-") as scratch:
        path = Path(scratch) / "part.step"
        path.write_bytes(data)
        shape = read_shape(path, solid=solid)
    if shape is None:
        return packed([])
    return packed(workpiece_rows(FeaturesDocument.from_json(features), PlanDocument.from_json(plan), shape))


def workpiece_rows(features: FeaturesDocument, plan: PlanDocument, shape: Shape) -> list[tuple[dict[str, Any], Mesh]]:
    """What is said of each mesh of the workpiece, and the mesh. jaws: corners (2, 3) along the part's own axes."""
    from planner.proof.workpieces import workpieces

    rows = []
    for piece in workpieces(plan, features, shape):
        jaws = [[jaw.low.tolist(), jaw.high.tolist()] for jaw in piece.jaws]
        about = {"name": piece.name, "volume": piece.volume, "triangles": len(piece.mesh.triangles), "jaws": jaws}
        rows.append((about, piece.mesh))
    return rows


def plan_text(features: str, study: Study, data: bytes, solid: int | None = None) -> str:
    """The plan document as JSON text, from the features document's JSON text; `data`, the STEP file, gives the shape that
    the plan is cut to in simulation. Raises what plan() raises. Runs in a worker process.
    """
    from recognizer.pipeline import rejoin

    document = rejoin(FeaturesDocument.from_json(features), data, solid=solid)
    reach, why = _reach(document, study)
    return _plan(features, study, document.shape, reach or why)


def _plan(features: str, study: Study, shape: Shape | None, reach: ReachDocument | str) -> str:
    from planner import plan

    document = FeaturesDocument.from_json(features)
    document.carry(CarriedShape(shape), CarriedReach(reach))
    with tempfile.TemporaryDirectory(prefix="sidewise-") as scratch:
        job = _job(study, Path(scratch))
        stock = next((a for a in study.attachments if a.field == "stock"), None)
        if stock is None:
            return plan(document, job).to_json()
        box, share = _box(stock, document, Path(scratch))
        job = job.model_copy(update={"stock": stock.name, "stock_box": box})
        return with_stock_note(plan(document, job), stock.name, share).to_json()


def _box(stock: Attachment, document: FeaturesDocument, scratch: Path) -> tuple[Box, float]:
    """Box of a STEP file of the stock, along the part's own axes, and the share that it fills of it. Raises what the kernel's reading raises."""
    from recognizer.kernel.extent import read_box

    try:
        return read_box(_laid(stock, scratch), list(document.part.frame))
    except SidewiseError as error:
        error.where = ", ".join(piece for piece in (f"stock file {stock.name}", error.where) if piece)
        raise


def reach_text(data: bytes, name: str, solid: int | None, tools: Attachment | None = None, axes: int = 3) -> str:
    """The reach document as JSON text, for the cutters of a file or of the default table. Runs in a worker process."""
    from recognizer import reach
    from shared.cutters import load_cutters

    with tempfile.TemporaryDirectory(prefix="sidewise-") as scratch:
        path = Path(scratch) / "part.step"
        path.write_bytes(data)
        table = load_cutters(_laid(tools, Path(scratch)) if tools else None)
        document = reach(path, solid=solid, table=table, axes=axes)
    return document.model_copy(update={"part": document.part.model_copy(update={"file": name})}).to_json()


def quote_text(features: str, plan: str, quantities: tuple[int, ...], rates: Attachment | None = None) -> str:
    """The quote document as JSON text, at a file's rates or at assumed ones. Runs in a worker process."""
    from service.quoting import quote
    from shared.shop.rates import load_rates

    with tempfile.TemporaryDirectory(prefix="sidewise-") as scratch:
        charged = load_rates(_laid(rates, Path(scratch)) if rates else None)
    papers = FeaturesDocument.from_json(features), PlanDocument.from_json(plan)
    return quote(*papers, charged, quantities).to_json()


def compare_text(old: tuple[str, str], new: tuple[str, str]) -> str:
    """The compare document as JSON text, from the features and plan documents of both. Runs in a worker process."""
    from service.comparing import compare

    features = [FeaturesDocument.from_json(text) for text, _ in (old, new)]
    plans = [PlanDocument.from_json(text) for _, text in (old, new)]
    return compare(features[0], features[1], (plans[0], plans[1])).to_json()


def report_bytes(
    documents: dict[str, str], mesh: bytes, workpieces: bytes, ending: str, paper: str, inches: bool
) -> bytes:
    """A report's bytes from the JSON texts of features, plan, quote and reach. Runs in a worker process."""
    from service.report.content import Papers
    from service.report.make import drawn, report
    from shared.quote import QuoteDocument
    from shared.reach import ReachDocument

    papers = Papers(
        FeaturesDocument.from_json(documents["features"]), PlanDocument.from_json(documents["plan"]),
        QuoteDocument.from_json(documents["quote"]), ReachDocument.from_json(documents["reach"]),
    )  # fmt: skip
    pictures: dict[str, list[bytes]] = {} if ending == ".csv" else drawn(papers, mesh, workpieces)
    return report(papers, pictures, ending, paper=paper, inches=inches)


def _laid(attachment: Attachment, scratch: Path) -> str:
    """Path of an attachment laid in a folder of its own, under its own name."""
    folder = scratch / attachment.field
    folder.mkdir()
    path = folder / (Path(attachment.name).name or attachment.field)
    path.write_bytes(attachment.data)
    return str(path)


def _job(study: Study, scratch: Path) -> Job:
    """The study's job, with its files laid in `scratch`."""
    values: dict[str, Any] = json.loads(study.job or "{}")
    return Job.model_validate(
        values | {a.field: _laid(a, scratch) for a in study.attachments if a.field in FILE_FIELDS}
    )
