// Lengths in the unit of the part's file: mm, or inches. Reasons and warnings are worded in mm.

import { number } from "./dom";
import { state } from "./state";

const MM_PER_INCH = 25.4;

export const inches = (): boolean => ["inch", "in"].includes((state.features?.part.unit ?? "mm").toLowerCase());
export const unit = (): string => (inches() ? "in" : "mm");

/** A length without its unit. */
export const length = (mm: number): string => (inches() ? number(mm / MM_PER_INCH, 4) : number(mm));

/** An area or a feed, with its unit. */
export const area = (mm2: number): string => (inches() ? `${number(mm2 / MM_PER_INCH ** 2, 3)} in²` : `${number(mm2, 0)} mm²`);
export const feed = (mm: number): string => (inches() ? `${number(mm / MM_PER_INCH, 1)} in/min` : `${Math.round(mm)} mm/min`);
