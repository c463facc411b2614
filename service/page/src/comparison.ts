// Two parts, or two plans of one part, side by side.

import type { Compare, FeatureChange } from "./documents";
import { capital, h, minutes, number, words } from "./dom";

export function comparison(found: Compare, close: () => void): HTMLElement {
  const { old, new: now, plan } = found;
  return h(
    "div",
    { class: "comparison", role: "dialog", "aria-label": "Comparison", tabindex: -1 },
    h("button", { class: "close", onclick: close }, "Close"),
    h("h2", {}, `${old.file} → ${now.file}`),
    h("p", { class: "quiet" }, found.placement.because.join("; ")),
    plan && totals(plan),
    changes("Added", found.added),
    changes("Removed", found.removed),
    changes("Moved", found.moved),
    changes("Resized", found.resized),
    h("p", { class: "quiet" }, `${found.unchanged.length} features are unchanged.`),
    plan && plan.operations.length > 0 && h("section", {}, h("h3", {}, "Operations"), h("ul", {}, plan.operations.map((o) => h("li", {}, `${capital(o.what)}: ${o.name}${o.because.length ? ` (${o.because.join("; ")})` : ""}`)))),
  );
}

function totals(plan: NonNullable<Compare["plan"]>): HTMLElement {
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
    h("tbody", {}, rows.map(([name, read]) => h("tr", {}, h("th", { scope: "row" }, name), h("td", {}, read(plan.totals_old)), h("td", {}, read(plan.totals_new))))),
  );
}

function changes(title: string, list: FeatureChange[]): HTMLElement | null {
  if (!list.length) return null;
  return h("section", {}, h("h3", {}, `${title} (${list.length})`), h("ul", {}, list.map((c) => h("li", {}, sentence(c)))));
}

function sentence(change: FeatureChange): string {
  const kind = change.new_kind && change.new_kind !== change.kind ? `${words(change.kind)} → ${words(change.new_kind)}` : words(change.kind);
  const size = (v: number | null) => (v === null ? "none" : number(v));
  const sizes = change.sizes.map((s) => `${words(s.name)} ${size(s.old)} → ${size(s.new)}`);
  const moved = change.moved_by ? [`moved by ${change.moved_by.map((v) => number(v)).join(", ")}`] : [];
  return [capital(kind), change.new ?? change.old ?? "", ...moved, ...sizes].filter(Boolean).join(", ");
}
