"""`sidewise plan`."""

from __future__ import annotations

from service.commands.common import Memory, Out, Part, Pictures, Solid, Strict, Timeout, end
from service.commands.job import job_options
from service.errors import reported
from service.options import Asked


@job_options
def plan(
    part: Part,
    asked: Asked,
    pictures: Pictures = "",
    out: Out = None,
    solid: Solid = None,
    strict: Strict = False,
    timeout: Timeout = 120,
    memory: Memory = 4,
) -> None:
    """Plan the setups and operations that cut a part."""
    with reported(part):
        from service import run

        run.check_out(out)
        limits = run.Limits(timeout, memory)
        features, document = run.planned(part, solid, asked, limits)
        if pictures:
            from service.report.stages import write_pictures

            write_pictures(features, document, pictures, limits)
        if out is not None:
            run.write(document.to_json(), out)
        else:
            from service.summary.plan import print_plan

            print_plan(document)
        if strict:
            end(run.unfinished(document))
        end(run.unsafe(document), "Do not cut")
