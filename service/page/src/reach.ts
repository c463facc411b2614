// Reach of every face from one direction: colours, and in words what is in the way.

import type { Features, Reach } from "./documents";
import { capital, direction, h, number } from "./dom";

export const REACH_COLOURS = {
  touched: 0x2b83ba,
  long: 0xf2b134,
  part: 0xcfa3d6,
  blocked: 0xa1001a,
  unseen: 0xd9dce0,
};
export const REACH_WORDS: Record<keyof typeof REACH_COLOURS, string> = {
  touched: "reached",
  long: "reached by a long cutter only",
  part: "reached in part",
  blocked: "seen, but no cutter gets there",
  unseen: "not seen from here",
};

type Word = keyof typeof REACH_COLOURS;

/** How a face is reached from a direction (its index in the document). */
export function reached(reach: Reach, face: number, towards: number): Word {
  const said = reach.faces[face];
  const view = said?.views.find((v) => v.direction === towards);
  if (!view || view.seen < 0.001) return "unseen";
  if (view.touched < 0.001) return "blocked";
  if (view.touched < view.seen - 0.005 || view.touched < 0.99) return "part";
  return view.blockers.some((b) => b.reason === "too_long_for_its_diameter") || (said.verdict === "warning" && view.largest?.endsWith("XL")) ? "long" : "touched";
}

export const names = (reach: Reach, features: Features): string[] =>
  reach.directions.map((d) => direction(d.vector, features.part.frame));

/** What is in the way of a face from a direction. */
export function inTheWay(reach: Reach, faces: number[], towards: number): HTMLElement | null {
  const rows = faces.flatMap((index) => {
    const view = reach.faces[index]?.views.find((v) => v.direction === towards);
    if (!view) return [h("li", {}, `face ${index}: not seen from here`)];
    const said = `face ${index}: ${number(100 * view.seen, 1)} % seen, ${number(100 * view.touched, 1)} % touched`;
    const cutter = view.largest ? `, ${view.largest}${view.stick_out ? ` standing out ${number(view.stick_out, 1)} mm` : ""}` : "";
    return [h("li", {}, said + cutter, view.blockers.length > 0 && h("ul", {}, view.blockers.map((b) => h("li", {}, capital(b.text)))))];
  });
  return rows.length ? h("details", { open: true }, h("summary", {}, "Reach from here"), h("ul", {}, rows)) : null;
}
