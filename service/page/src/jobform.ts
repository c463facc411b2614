// Stock, machine, cutters and material: change them and the plan follows, without the model being read again.

import type { Job } from "./documents";
import { h } from "./dom";

const MATERIALS = ["aluminium", "steel", "stainless", "cast_iron", "brass", "titanium", "plastic"];
const FILES: [string, string, string][] = [
  ["machine", "Machine file", ".toml,.csv"],
  ["tools", "Cutter file", ".toml,.csv"],
  ["material_file", "Material file", ".toml,.csv"],
  ["stock", "Stock model", ".step,.stp,.p21"],
  ["notes", "Drawing notes", ".toml,.csv"],
  ["rates", "Rates file", ".toml,.csv"],
];

/** What somebody asks for: the job, files by field, fields whose file is left out. */
export interface Wanted {
  job: object;
  files: Map<string, File>;
  drop: string[];
  batch: number;
}

export function jobForm(job: Job, batch: number, again: (wanted: Wanted) => void): HTMLFormElement {
  const { stock, axes, material, vise } = job.job;
  const asked = Array.isArray(stock) ? stock.join(", ") : String(stock);
  const files = new Map<string, File>();
  const drop = new Set<string>();
  const grip = (vise as { opening?: number } | undefined)?.opening;
  const form = h(
    "form",
    { class: "job", "aria-label": "Job" },
    h("label", {}, "Stock allowance, mm", h("input", { name: "stock", value: asked, inputmode: "decimal", "aria-describedby": "stock-help" })),
    h("small", { id: "stock-help" }, "One number, or six for -x +x -y +y -z +z"),
    h("label", {}, "Axes", select("axes", ["3", "4", "5"], String(axes))),
    h("label", {}, "Material", h("input", { name: "material", value: material, list: "materials" }), datalist()),
    grip !== undefined && h("label", {}, "Vise opens, mm", h("input", { name: "opening", value: grip, inputmode: "decimal" })),
    h("label", {}, "Batch size", h("input", { name: "batch", type: "number", min: 1, max: 1000000, value: batch })),
    h(
      "details",
      { class: "files", open: job.files.length > 0 },
      h("summary", {}, `Files of your shop (${job.files.length})`),
      FILES.map(([field, title, kinds]) => fileRow(field, title, kinds, nameOf(job, field), files, drop)),
    ),
    h("button", { type: "submit" }, "Plan again"),
  );
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const values = new FormData(form);
    const numbers = String(values.get("stock")).split(/[,;\s]+/).filter(Boolean).map(Number);
    const opening = Number(values.get("opening"));
    const wanted = {
      ...job.job,
      stock: numbers.length === 1 ? numbers[0] : numbers,
      axes: Number(values.get("axes")),
      material: String(values.get("material")),
      ...(grip !== undefined && opening !== grip ? { vise: { ...(vise as object), opening } } : {}),
    };
    if (wanted.material !== material && !files.has("material_file")) drop.add("material_file");
    again({ job: wanted, files, drop: [...drop], batch: Math.max(1, Math.round(Number(values.get("batch")) || 1)) });
  });
  return form;
}

/** A file that may come with the job: its name, a button to choose one, one to leave it out. */
function fileRow(field: string, title: string, kinds: string, now: string | null, files: Map<string, File>, drop: Set<string>): HTMLElement {
  const name = h("span", { class: "filename" }, now ?? "none");
  const input = h("input", { type: "file", accept: kinds, class: "out-of-sight", tabindex: -1, "aria-label": title });
  const without = h("button", { type: "button", "aria-label": `Without the ${title.toLowerCase()}`, disabled: now === null }, "Without");
  input.addEventListener("change", () => {
    const file = input.files?.[0];
    if (!file) return;
    files.set(field, file);
    drop.delete(field);
    name.textContent = file.name;
    without.disabled = false;
  });
  without.addEventListener("click", () => {
    files.delete(field);
    drop.add(field);
    input.value = "";
    name.textContent = "none";
    without.disabled = true;
  });
  const choose = h("button", { type: "button", "aria-label": `Choose the ${title.toLowerCase()}`, onclick: () => input.click() }, "Choose …");
  return h("div", { class: "filerow" }, h("span", {}, title), name, choose, without, input);
}

const nameOf = (job: Job, field: string): string | null => {
  const found = job.files.find((f) => f.startsWith(`${field}: `));
  return found ? found.slice(field.length + 2) : null;
};

const datalist = (): HTMLElement => h("datalist", { id: "materials" }, MATERIALS.map((m) => h("option", { value: m })));

export function select(name: string, values: string[], chosen: string): HTMLSelectElement {
  return h("select", { name }, values.map((v) => h("option", { value: v, selected: v === chosen }, v)));
}
