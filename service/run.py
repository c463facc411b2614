"""What the commands do: read in the worker, plan here, write documents."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from pydantic import ValidationError

from service.blank import with_stock_note
from service.options import HINTS, Asked, goals_from, quantities_from, stock_from, threads_from, vise_from, weights_from
from service.progress import Progress
from service.worker import Limits, Worker, features_json, part_for_plan, stock_box
from shared.compare import CompareDocument
from shared.cutters import load_cutters
from shared.errors import SidewiseError, UsageError
from shared.features import FeaturesDocument
from shared.names import readable
from shared.plan import Job, PlanDocument
from shared.quote import QuoteDocument
from shared.reach import ReachDocument
from shared.shop.machine import load_machine
from shared.shop.materials import load_material
from shared.shop.notes import load_notes
from shared.shop.rates import load_rates
from shared.wire import Document

if TYPE_CHECKING:
    from service.report.content import Papers

__all__ = [
    "Asked",
    "Limits",
    "check_out",
    "compare_of",
    "features_of",
    "planned",
    "schema_of",
    "unfinished",
    "unreached",
    "write",
]

OUT_HINT = "Write the name of a file, or - for standard output: -o plan.json"
DOCUMENTS: dict[str, type[Document]] = {
    "features": FeaturesDocument,
    "plan": PlanDocument,
    "reach": ReachDocument,
    "compare": CompareDocument,
    "quote": QuoteDocument,
}
"""All documents by name."""
FILES = (".toml", ".csv")


def features_of(part: str, solid: int | None, limits: Limits) -> tuple[FeaturesDocument, str]:
    """The features document of a STEP file, and its JSON text as the worker wrote it."""
    with Worker(limits) as worker, Progress(f"Reading {Path(part).name}"):
        text = worker.start(features_json, part, solid).result()
    return FeaturesDocument.from_json(text), text


def quote_of(
    part: str, solid: int | None, asked: Asked, limits: Limits, *, rates: str = "", quantities: str = "1,10,100"
) -> QuoteDocument:
    """The quote document of a STEP file."""
    charged, wanted = load_rates(rates or None), quantities_from(quantities)
    features, document = planned(part, solid, asked, limits)
    from service.quoting import quote

    return quote(features, document, charged, wanted)


def papers_of(
    part: str, solid: int | None, asked: Asked, limits: Limits, *, rates: str = "", quantities: str = "1,10,100"
) -> Papers:
    """The documents that a report of a STEP file is made of."""
    charged, wanted = load_rates(rates or None), quantities_from(quantities)
    features, document = planned(part, solid, asked, limits)
    from service import reaching
    from service.quoting import quote
    from service.report.content import Papers

    reach = features.reach_by(load_cutters(asked.tools or None))[0]
    reach = reach or reaching.reach_of(part, solid, reaching.Asked(tools=asked.tools), limits)[0]
    return Papers(features, document, quote(features, document, charged, wanted), reach)


def planned(part: str, solid: int | None, asked: Asked, limits: Limits) -> tuple[FeaturesDocument, PlanDocument]:
    """The features and plan documents of a STEP file. The planner is loaded while the worker reads."""
    job = job_from(asked)
    with Worker(limits) as worker, Progress(f"Reading {Path(part).name}"):
        reading = worker.start(part_for_plan, part, solid, job.tools, job.reach)
        from planner import plan

        document = reading.result().document()
        share = None
        if isinstance(job.stock, str):
            job, share = _with_stock_box(job, document, worker)
    with Progress(f"Planning {Path(part).name}"):
        made = plan(document, job)
        return document, made if share is None else with_stock_note(made, str(job.stock), share)


def compare_of(
    old: str, new: str, asked: Asked, limits: Limits, *, solid: int | None = None, features_only: bool = False
) -> CompareDocument:
    """The compare document of two STEP files; both are planned for the same job unless only features are wanted."""
    job = job_from(asked)
    if isinstance(job.stock, str):
        raise UsageError(
            "compare takes an allowance, not a stock file: one file cannot hold two parts that differ.",
            "Give a number.",
            "--stock",
        )
    with Worker(limits) as worker:
        before, after = (_read(worker, path, solid, job, features_only) for path in (old, new))
    from service.comparing import compare

    if features_only:
        return compare(before, after)
    from planner import plan

    with Progress(f"Planning {Path(old).name} and {Path(new).name}"):
        return compare(before, after, (plan(before, job), plan(after, job)))


def _read(worker: Worker, path: str, solid: int | None, job: Job, features_only: bool) -> FeaturesDocument:
    """One of two files; an error says which."""
    try:
        with Progress(f"Reading {Path(path).name}"):
            if features_only:
                return FeaturesDocument.from_json(worker.start(features_json, path, solid).result())
            return worker.start(part_for_plan, path, solid, job.tools, job.reach, False).result().document()
    except SidewiseError as error:
        error.where = ", ".join(piece for piece in (Path(path).name, error.where) if piece)
        raise


def job_from(asked: Asked) -> Job:
    """The job that the options ask for. Raises UsageError naming the option."""
    values: dict[str, object] = {
        "stock": stock_from(asked.stock),
        "axes": asked.axes or load_machine(asked.machine or None).axes,
        "tools": asked.tools or None,
        "machine": asked.machine or None,
        "notes": asked.notes or None,
        "reach": asked.reach,
        "material_file" if Path(asked.material).suffix.lower() in FILES else "material": asked.material,
    }
    typed = {
        "threads": threads_from(list(asked.threads)),
        "vise": vise_from(asked.vise),
        "goals": goals_from(asked.goals),
        "weights": weights_from(asked.weights),
    }
    try:
        return Job.model_validate(values | {name: value for name, value in typed.items() if value})
    except ValidationError as error:
        first = error.errors()[0]
        option, *rest = (str(piece) for piece in first["loc"])
        field = next((f" ({p})" for p in rest if p.isidentifier()), "")
        message = str(first["msg"]).removeprefix("Value error, ")
        hint = HINTS.get(option, "See sidewise plan --help.")
        raise UsageError(f"--{option}{field}: {message}", hint, f"--{option}") from None


def check_shop(asked: Asked) -> None:
    """Raises DataFileError for a file of the shop that cannot be used, before any part is read."""
    load_cutters(asked.tools or None)
    load_notes(asked.notes or None)
    if Path(asked.material).suffix.lower() in FILES:
        load_material(asked.material)


def _with_stock_box(job: Job, document: FeaturesDocument, worker: Worker) -> tuple[Job, float]:
    """The job with the box of its stock file, and the share of that box that the stock fills."""
    path = str(job.stock)
    try:
        box, share = worker.start(stock_box, path, list(document.part.frame)).result()
    except SidewiseError as error:
        error.where = ", ".join(piece for piece in (f"stock file {Path(path).name}", error.where) if piece)
        raise
    return job.model_copy(update={"stock_box": box, "stock": readable(Path(path).name)}), share


def schema_of(name: str) -> str:
    """JSON Schema of a document as text."""
    if name not in DOCUMENTS:
        raise UsageError(f"There is no schema '{name}'.", f"Choose one of: {', '.join(DOCUMENTS)}.")
    return json.dumps(DOCUMENTS[name].model_json_schema(by_alias=True), indent=2)


def check_out(out: str | None) -> None:
    """Raises UsageError, before any work is done, where `out` names no file that could be written."""
    if out is None or out == "-":
        return
    if not out or Path(out).is_dir():
        raise UsageError(f"'{out}' is a folder, not a file." if out else "No file is named.", OUT_HINT, "--out")
    folder = Path(out).parent
    if not folder.is_dir():
        raise UsageError(
            f"There is no folder {folder} to write {Path(out).name} in.", "Make the folder first.", "--out"
        )


def write_bytes(data: bytes, out: str) -> None:
    """Bytes to a file. Raises UsageError where it cannot be written."""
    try:
        Path(out).write_bytes(data)
    except OSError as error:
        hint = "Check the folder and its permissions."
        raise UsageError(f"{out} cannot be written: {error.strerror}.", hint, "--out") from None


def write(text: str, out: str) -> None:
    """The document to a file, or to standard output for `-`. Raises UsageError where it cannot be written."""
    if out == "-":
        sys.stdout.write(text)
        sys.stdout.flush()
        return
    try:
        Path(out).write_text(text, encoding="utf-8")
    except OSError as error:
        hint = "Check the folder and its permissions."
        raise UsageError(f"{out} cannot be written: {error.strerror}.", hint, "--out") from None


def unreached(document: FeaturesDocument) -> list[str]:
    """What --strict holds against a part: features that no direction reaches, faces that nobody owns, errors found."""
    found = [f"{f.id} ({f.kind}) cannot be reached" for f in document.features if not any(v.reachable for v in f.views)]
    found += [f"face {f.index} has no feature and no reason" for f in document.faces if not f.feature and not f.reason]
    return found + [finding.message for finding in document.findings if finding.severity == "error"]


def unsafe(document: PlanDocument) -> list[str]:
    """What no plan may do, asked for or not: cut into the part, or run into something. A script must not go on with it."""
    faults = [f for f in document.proof.checker if f.code == "gouged" or f.code.endswith("_collision")]
    return [f.message for f in faults]


def unfinished(document: PlanDocument) -> list[str]:
    """What --strict holds against a plan: unplanned features, violations, gouges and material left, no proof of either."""
    found = [f"{u.feature} is not planned: {u.reason}" for u in document.unplanned]
    found += [finding.message for finding in document.proof.checker]
    found += [f.message for f in document.findings if f.severity == "error" or f.code == "not_simulated"]
    if document.proof.gouged:
        found.append(f"{document.proof.gouged:g} mm3 are cut too much")
    return found
