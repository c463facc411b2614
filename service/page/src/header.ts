// The bar at the top: the part's name, opening, taking away, comparing.

import * as api from "./api";
import { attempt, compareWith, home, open } from "./jobs";
import type { Job } from "./documents";
import { fill, h } from "./dom";
import { inches } from "./lengths";
import { bar } from "./shell";
import { state } from "./state";

export function drawBar(): void {
  const job = state.job;
  fill(
    bar,
    h("a", { class: "brand", href: "#", onclick: (e) => (e.preventDefault(), home()) }, "Sidewise"),
    job && h("h1", { class: "name" }, job.name),
    h("span", { class: "grow" }),
    job && fileButton(),
    job && state.features && downloads(job),
    job && state.plan && compareButton(),
    job && ["queued", "running"].includes(job.state) && h("button", { onclick: () => void api.stop(job.id) }, "Stop"),
  );
}

/** What can be taken away; the sheets on either paper, in either unit. */
function downloads(job: Job): HTMLElement {
  const paper = h("select", { "aria-label": "Paper" }, h("option", { value: "a4" }, "A4"), h("option", { value: "letter" }, "Letter"));
  const units = h("select", { "aria-label": "Lengths" }, h("option", { value: "mm" }, "mm"), h("option", { value: "inch" }, "inches"));
  paper.value = taken.paper;
  units.value = taken.units || (inches() ? "inch" : "mm");
  paper.addEventListener("change", () => (taken.paper = paper.value));
  units.addEventListener("change", () => (taken.units = units.value));
  const get = (text: string, path: string, ending: string, needsPlan = true): HTMLElement | false =>
    (!needsPlan || !!state.plan) &&
    h("button", { onclick: () => void attempt(`Making ${text} …`, () => api.download(`/api/jobs/${job.id}/${path}`, `${job.name}.${ending}`)) }, text);
  const sheets = (format: string): string => `report?format=${format}&paper=${taken.paper}&units=${units.value}&quantities=${quantities()}`;
  const sheet = (text: string, format: string): HTMLElement | false =>
    !!state.plan && h("button", { onclick: () => void attempt(`Making ${text} …`, () => api.download(`/api/jobs/${job.id}/${sheets(format)}`, `${job.name}.${format}`)) }, text);
  const menu = h(
    "details",
    { class: "downloads", open: taken.open },
    h("summary", {}, "Download"),
    h(
      "div",
      {},
      get("Plan (JSON)", "plan", "plan.json"),
      get("Features (JSON)", "features", "features.json", false),
      get("Reach (JSON)", "reach", "reach.json", false),
      get("Quote (JSON)", `quote?quantities=${quantities()}`, "quote.json"),
      state.plan && h("button", { onclick: () => operationTable() }, "Operations (CSV)"),
      state.plan && h("span", { class: "pair" }, paper, units),
      sheet("Sheets (PDF)", "pdf"),
      sheet("Sheets (HTML)", "html"),
    ),
  );
  menu.addEventListener("toggle", () => (taken.open = menu.open));
  return menu;
}

export const taken = { paper: "a4", units: "", open: false };
const quantities = (): string => api.quantities(state.batch);

function fileButton(): HTMLElement {
  const input = h("input", { type: "file", accept: ".step,.stp,.p21", class: "out-of-sight", tabindex: -1, "aria-label": "Another STEP file" });
  input.addEventListener("change", () => input.files?.[0] && void open(input.files[0]));
  return h("span", {}, h("button", { onclick: () => input.click() }, "Open …"), input);
}

function compareButton(): HTMLElement {
  const input = h("input", { type: "file", accept: ".step,.stp,.p21", class: "out-of-sight", tabindex: -1, "aria-label": "New revision" });
  input.addEventListener("change", () => input.files?.[0] && void compareWith(input.files[0]));
  return h("span", {}, h("button", { onclick: () => input.click() }, "Compare with …"), input);
}

/** The operation list as CSV; a text that begins like a formula is set off. */
function operationTable(): void {
  const cell = (v: unknown) => {
    const text = String(v ?? "");
    return `"${(/^[=+@\t]/.test(text) ? `'${text}` : text).replaceAll('"', '""')}"`;
  };
  const rows = [["setup", "operation", "what", "features", "cutter", "DC", "top", "bottom", "rev/min", "mm/min", "minutes", "why"]];
  state.plan!.setups.forEach((s, n) =>
    s.operations.forEach((o) =>
      rows.push([n + 1, o.id, o.name, o.features.join(" "), o.tool.kind, o.tool.DC, o.levels.top, o.levels.bottom, o.speed, o.feed, o.minutes, o.because.join("; ")].map(String)),
    ),
  );
  api.saveBlob(new Blob([rows.map((r) => r.map(cell).join(",")).join("\r\n")], { type: "text/csv" }), `${state.job!.name}.operations.csv`);
}
