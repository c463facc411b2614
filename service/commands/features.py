"""`sidewise features`."""

from __future__ import annotations

from service.commands.common import Memory, Out, Part, Solid, Strict, Timeout, end
from service.errors import reported


def features(
    part: Part, out: Out = None, solid: Solid = None, strict: Strict = False, timeout: Timeout = 120, memory: Memory = 4
) -> None:
    """List the features of a part and where each is cut from."""
    with reported(part):
        from service import run

        run.check_out(out)
        document, text = run.features_of(part, solid, run.Limits(timeout, memory))
        if out is not None:
            run.write(text, out)
        else:
            from service.summary.features import print_features

            print_features(document)
        end(run.unreached(document) if strict else [])
