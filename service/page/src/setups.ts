// Stepping through the setups: the part as it is clamped, and the workpiece as it is then.

import * as api from "./api";
import { attempt } from "./jobs";
import type { Vector } from "./documents";
import { canvas, viewer } from "./shell";
import { change, chosenSetup, state, type Shown } from "./state";
import { pieceColours, pieceOf } from "./workpiece";

export function showSetup(index: number | null): void {
  if (index === state.setup) return;
  change({ setup: index, operation: null, tab: "setups" });
  clamp();
  if (index === null) viewer.lookFrom([1, -1.4, 1], [0, 0, 1]);
  if (index !== null && !state.pieces) void seePieces();
  else void showPiece();
}

/** The stock is drawn in lines where the finished part is shown in it. */
function clamp(): void {
  viewer.clamp(chosenSetup(state), state.setup === null || (state.shown !== "part" && state.pieces?.length) ? null : stock());
}

const seePieces = (): Promise<void> =>
  attempt("Cutting the workpiece …", async () => {
    const job = state.job!;
    const pieces = await api.workpieces(job.id);
    if (state.job?.id !== job.id) return;
    change({ pieces, shown: pieces.length ? state.shown : "part" });
    clamp();
    await showPiece();
  });

/** Draws the workpiece that the state asks for; what was asked for in the meantime wins. */
async function showPiece(): Promise<void> {
  const asked = pieceKey();
  const piece = await pieceOf(state).catch(() => null);
  if (asked !== pieceKey()) return;
  viewer.piece(piece && { ...piece, colour: pieceColours(state) });
  canvas.dataset.shows = piece ? asked : "part";
}

const pieceKey = (): string => `${state.job?.id} ${state.setup} ${state.shown}`;

export function show(shown: Shown): void {
  change({ shown });
  clamp();
  void showPiece();
}

/** The stock's box in the part's own axes. */
function stock(): { min: Vector; max: Vector; frame: Vector[] } | null {
  const { plan, features } = state;
  if (!plan || !features) return null;
  const box = (features.part as unknown as { frame_box: { min: Vector; max: Vector } }).frame_box;
  const a = plan.job.stock.allowance;
  return {
    min: box.min.map((v, k) => v - a[2 * k]) as Vector,
    max: box.max.map((v, k) => v + a[2 * k + 1]) as Vector,
    frame: features.part.frame,
  };
}

/** Whether the workpiece is shown rather than the part. */
export const ofWorkpiece = (): boolean => state.setup !== null && state.shown !== "part" && !!state.pieces?.length;
