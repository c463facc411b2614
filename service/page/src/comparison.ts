// Two parts, or two plans of one part, side by side.

import { CHANGES, css } from "./colours";
import type { Compare, FeatureChange } from "./documents";
import { capital, h, minutes, number, words } from "./dom";
import type { Side } from "./state";
import { Viewer } from "./viewer";

type Choose = (change: FeatureChange) => void;

/** The dialog; `viewers` are to be ended when it is closed. */
export function comparison(found: Compare, sides: { old: Side; now: Side }, close: () => void): { box: HTMLElement; viewers: Viewer[] } {
  const { old, new: now } = found;
  const views: Viewer[] = [];
  const stages = [sides.old, sides.now].map((side, n) => {
    const text = n === 0 ? `Old: ${old.file}` : `New: ${now.file}`;
    const canvas = h("canvas", { role: "img", "aria-label": `${text}, changes in colour` });
    const stage = h("div", { class: "half" }, canvas);
    const viewer = new Viewer(canvas, () => undefined, () => views[1 - n]?.turnAs(viewer));
    viewer.show(side.mesh);
    views.push(viewer);
    return h("figure", {}, h("figcaption", {}, text), stage);
  });
  const paint = (chosen: FeatureChange | null): void => views.forEach((viewer, n) => viewer.colour(colours(found, n, n ? sides.now : sides.old), facesOf(chosen && (n ? chosen.new : chosen.old), n ? sides.now : sides.old), new Set()));
  paint(null);
  return { box: dialog(found, sides, stages, paint, close), viewers: views };
}

/** Colour of each face by what became of its feature. */
function colours(found: Compare, side: number, { features }: Side): Map<number, number> {
  const made = new Map<number, number>(features.faces.map((f) => [f.index, CHANGES.unchanged]));
  for (const what of ["added", "removed", "moved", "resized"] as const)
    for (const change of found[what]) for (const face of facesOf(side ? change.new : change.old, { features })) made.set(face, CHANGES[what]);
  return made;
}

const facesOf = (id: string | null | undefined, { features }: { features: Side["features"] }): Set<number> =>
  new Set(features.features.find((f) => f.id === id)?.faces ?? []);

function dialog(found: Compare, sides: { old: Side; now: Side }, stages: HTMLElement[], choose: (change: FeatureChange | null) => void, close: () => void): HTMLElement {
  const { old, new: now, plan } = found;
  return h(
    "div",
    { class: "comparison", role: "dialog", "aria-label": "Comparison", tabindex: -1 },
    h("button", { class: "close", onclick: close }, "Close"),
    h("h2", {}, `${old.file} → ${now.file}`),
    h("p", { class: "quiet" }, found.placement.because.join("; ")),
    h("div", { class: "halves" }, stages),
    h("p", { class: "key" }, Object.entries(CHANGES).map(([what, colour]) => h("span", {}, h("i", { class: "swatch", style: `background:${css(colour)}` }), capital(what)))),
    plan && totals(plan, prices(sides)),
    changes("Added", found.added, choose),
    changes("Removed", found.removed, choose),
    changes("Moved", found.moved, choose),
    changes("Resized", found.resized, choose),
    h("p", { class: "quiet" }, `${found.unchanged.length} features are unchanged.`),
    plan && plan.operations.length > 0 && h("section", {}, h("h3", {}, "Operations"), h("ul", {}, plan.operations.map((o) => h("li", {}, `${capital(o.what)}: ${o.name}${o.because.length ? ` (${o.because.join("; ")})` : ""}`)))),
  );
}

/** Price of a part of each revision where the shop's batch is made of it, and one alone, as pairs of texts. */
function prices({ old, now }: { old: Side; now: Side }): [string, string, string][] {
  if (!old.quote || !now.quote) return [];
  const currency = String(now.quote.rates.currency ?? "");
  return old.quote.prices.map((p, k) => [`Price each for ${p.quantity}`, ...[p, now.quote!.prices[k]].map((q) => `${q.each.toFixed(2)} ${currency}`)] as [string, string, string]);
}

function totals(plan: NonNullable<Compare["plan"]>, more: [string, string, string][]): HTMLElement {
  const rows: [string, (t: typeof plan.totals_old) => string][] = [
    ["Setups", (t) => String(t.setups)],
    ["Operations", (t) => String(t.operations)],
    ["Cutters", (t) => String(t.tools)],
    ["Time", (t) => minutes(t.minutes)],
  ];
  return h(
    "table",
    {},
    h("thead", {}, h("tr", {}, ["", "Old", "New"].map((t) => h("th", { scope: "col" }, t)))),
    h("tbody", {}, rows.map(([name, read]) => h("tr", {}, h("th", { scope: "row" }, name), h("td", {}, read(plan.totals_old)), h("td", {}, read(plan.totals_new)))), more.map(([name, was, is]) => h("tr", {}, h("th", { scope: "row" }, name), h("td", {}, was), h("td", {}, is)))),
  );
}

function changes(title: string, list: FeatureChange[], choose: Choose): HTMLElement | null {
  if (!list.length) return null;
  return h("section", {}, h("h3", {}, `${title} (${list.length})`), h("ul", { class: "rows" }, list.map((c) => h("li", {}, h("button", { class: "row", onclick: () => choose(c) }, sentence(c))))));
}

function sentence(change: FeatureChange): string {
  const kind = change.new_kind && change.new_kind !== change.kind ? `${words(change.kind)} → ${words(change.new_kind)}` : words(change.kind);
  const size = (v: number | null) => (v === null ? "none" : number(v));
  const both = change.old && change.new;
  const sizes = change.sizes.map((s) => (both ? `${words(s.name)} ${size(s.old)} → ${size(s.new)}` : `${words(s.name)} ${size(s.old ?? s.new)}`));
  const moved = change.moved_by ? [`moved by ${change.moved_by.map((v) => number(v)).join(", ")}`] : [];
  return [capital(kind), change.new ?? change.old ?? "", ...moved, ...sizes].filter(Boolean).join(", ");
}
