// Stock, machine and material: change them and the plan follows, without the model being read again.

import type { Job } from "./documents";
import { h } from "./dom";

const MATERIALS = ["aluminium", "steel", "stainless", "cast_iron", "brass", "titanium", "plastic"];

export function jobForm(job: Job, batch: number, again: (wanted: object, batch: number) => void): HTMLFormElement {
  const { stock, axes, material } = job.job;
  const asked = Array.isArray(stock) ? stock.join(", ") : String(stock);
  const form = h(
    "form",
    { class: "job", "aria-label": "Job" },
    h("label", {}, "Stock allowance, mm", h("input", { name: "stock", value: asked, inputmode: "decimal", "aria-describedby": "stock-help" })),
    h("small", { id: "stock-help" }, "One number, or six for -x +x -y +y -z +z"),
    h("label", {}, "Axes", select("axes", ["3", "4", "5"], String(axes))),
    h("label", {}, "Material", h("input", { name: "material", value: material, list: "materials" }), datalist()),
    h("label", {}, "Batch size", h("input", { name: "batch", type: "number", min: 1, max: 1000000, value: batch })),
    h("button", { type: "submit" }, "Plan again"),
  );
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const values = new FormData(form);
    const numbers = String(values.get("stock")).split(/[,;\s]+/).filter(Boolean).map(Number);
    again({
      ...job.job,
      stock: numbers.length === 1 ? numbers[0] : numbers,
      axes: Number(values.get("axes")),
      material: String(values.get("material")),
    }, Math.max(1, Math.round(Number(values.get("batch")) || 1)));
  });
  return form;
}

const datalist = (): HTMLElement => h("datalist", { id: "materials" }, MATERIALS.map((m) => h("option", { value: m })));

export function select(name: string, values: string[], chosen: string): HTMLSelectElement {
  return h("select", { name }, values.map((v) => h("option", { value: v, selected: v === chosen }, v)));
}
