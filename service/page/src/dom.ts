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

/** Puts new children into an element. */
export function fill(parent: Element, ...children: (Child | Child[])[]): void {
  parent.replaceChildren(...children.flat().filter((c): c is Node | string => !!c));
}

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
