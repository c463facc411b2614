// What stands here before there is a part: what Sidewise does, where to drop a file, demo parts, earlier jobs.

import * as api from "./api";
import type { Job } from "./documents";
import { h, words } from "./dom";

export function startView(open: (file: File) => void, demo: (name: string) => void, earlier: (job: Job) => void): HTMLElement {
  const list = h("div", { class: "tiles" });
  const jobs = h("ul", { class: "rows" });
  const input = h("input", { type: "file", accept: ".step,.stp,.p21", class: "out-of-sight", tabindex: -1, "aria-label": "STEP file" });
  input.addEventListener("change", () => input.files?.[0] && open(input.files[0]));
  void api.demos().then((all) =>
    list.append(...all.map((d) => h("button", { class: "tile", onclick: () => demo(d.name) }, d.title))),
  ).catch(() => undefined);
  void api.recent().then((all) =>
    jobs.append(
      ...(all.length ? [] : [h("li", { class: "quiet" }, "None yet: what you open here is listed, and found again after a restart.")]),
      ...all.map((job) =>
        h("li", {}, h("button", { class: "row", onclick: () => earlier(job) }, h("span", { class: "what" }, job.name), h("span", { class: "time" }, words(job.state)))),
      ),
    ),
  ).catch(() => undefined);
  return h(
    "main",
    { class: "start" },
    h("h1", {}, "From a STEP solid to a first machining plan"),
    h("p", {}, "Drop a file anywhere on this page. Sidewise lists the features to machine, the sides they can be cut from, the fewest setups and the operations, each with its reason, and says what it cannot do."),
    h("p", {}, h("button", { class: "main", onclick: () => input.click() }, "Choose a STEP file …"), input),
    h("h2", {}, "Or open a demo part"),
    h("p", { class: "quiet" }, "Parts of an open-source telescope mount."),
    list,
    h("h2", {}, "Earlier jobs"),
    jobs,
    h("p", { class: "cautions" }, "A plan is a starting point: a qualified machinist must review it before anything is cut."),
  );
}
