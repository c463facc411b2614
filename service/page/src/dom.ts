// Small help for building the page by hand.

type Child = Node | string | null | undefined | false;
type Attributes = Record<string, string | number | boolean | ((event: Event) => void) | undefined>;

/** An element: h("button", { class: "wide", onclick: go }, "Go"). */
export function h<K extends keyof HTMLElementTagNameMap>(
  tag: K,
  attributes: Attributes = {},
  ...children: (Child | Child[])[]
): HTMLElementTagNameMap[K] {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (typeof value === "function") made.addEventListener(name.slice(2), value);
    else if (name.startsWith("aria-") && value !== undefined) made.setAttribute(name, String(value));
    else if (value === true) made.setAttribute(name, "");
    else if (value !== false && value !== undefined) made.setAttribute(name, String(value));
  }
  for (const child of children.flat()) if (child !== null && child !== undefined && child !== false) made.append(child);
  return made;
}

const FOCUSABLE = "a, button, input, select, summary, [tabindex]";

/** Puts new children into an element; whatever had the keyboard keeps it, if it is still there. */
export function fill(parent: Element, ...children: (Child | Child[])[]): void {
  const before = [...parent.querySelectorAll<HTMLElement>(FOCUSABLE)];
  const at = before.indexOf(document.activeElement as HTMLElement);
  const same = (a: HTMLElement, b: HTMLElement): boolean => a.tagName === b.tagName && told(a) === told(b);
  const focused = before[at];
  parent.replaceChildren(...children.flat().filter((c): c is Node | string => !!c));
  if (!focused || focused.isConnected) return;
  const after = [...parent.querySelectorAll<HTMLElement>(FOCUSABLE)];
  (after.find((now) => same(now, focused)) ?? after[at])?.focus({ preventScroll: true });
}

const told = (of: HTMLElement): string => of.getAttribute("aria-label") ?? (of instanceof HTMLSelectElement ? "" : (of.textContent ?? ""));

export const words = (name: string): string => name.replaceAll("_", " ");
export const capital = (text: string): string => text.charAt(0).toUpperCase() + text.slice(1);

/** A number with at most `digits` decimals and no useless zeros. */
export const number = (value: number, digits = 2): string => String(Number(value.toFixed(digits)));

/** Minutes as a shop says them. */
export function minutes(value: number): string {
  if (value < 1) return `${Math.max(1, Math.round(value * 60))} s`;
  if (value < 90) return `${number(value, 1)} min`;
  return `${Math.floor(value / 60)} h ${Math.round(value % 60)} min`;
}

/** A direction in the part's own axes: "+z", or the three numbers where it is tilted. */
export function direction(d: number[], frame: number[][] = [[1, 0, 0], [0, 1, 0], [0, 0, 1]]): string {
  for (let axis = 0; axis < 3; axis++) {
    const along = d[0] * frame[axis][0] + d[1] * frame[axis][1] + d[2] * frame[axis][2];
    if (Math.abs(along) > 0.99999) return (along > 0 ? "+" : "-") + "xyz"[axis];
  }
  return `(${d.map((v) => number(v, 3)).join(", ")})`;
}
