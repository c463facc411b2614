// The page's fixed elements, and the 3-D view in the middle.

import { h } from "./dom";
import { Viewer } from "./viewer";

export const root = document.getElementById("app")!;
export const canvas = h("canvas", { id: "view", role: "img", tabindex: 0, "aria-label": "The part in 3-D: arrow keys turn it, plus and minus zoom" });
export const bar = h("header");
export const tabs = h("div", { class: "tabs", role: "tablist", "aria-label": "Lists" });
export const left = h("div", { class: "list", id: "list", role: "tabpanel", tabindex: 0 });
export const right = h("aside", { class: "right", "aria-label": "Details" });
export const steps = h("nav", { class: "steps", "aria-label": "Setups" });
export const legend = h("div", { class: "legend", "aria-live": "polite" });
export const said = h("div", { class: "said", role: "status", "aria-live": "polite" });
export const picked = { face: (_: number | null): void => undefined, cut: (_: number | null): void => undefined };
const stage = h("div", { class: "stage" }, canvas);
export const viewer = new Viewer(canvas, (face, ofWorkpiece) => (ofWorkpiece ? picked.cut(face) : picked.face(face)));
stage.append(steps, legend);
export const work = h("main", { class: "work" }, h("section", { class: "left", "aria-label": "Lists" }, tabs, left), stage, right);
