// Lengths in words: mm, or inches in sixteenths.

import { own } from "./own.js";

export const MM_PER_INCH = 25.4;
const SIXTEENTHS = 16;

/** Inches to the nearest sixteenth, as a rule is read: `15 7/8 in`. */
export const inches = (mm) => {
  const all = Math.round((Math.abs(mm) / MM_PER_INCH) * SIXTEENTHS);
  const whole = Math.floor(all / SIXTEENTHS);
  let [part, of] = [all % SIXTEENTHS, SIXTEENTHS];
  while (part > 0 && part % 2 === 0) [part, of] = [part / 2, of / 2];
  const words = part === 0 ? `${whole}` : whole === 0 ? `${part}/${of}` : `${whole} ${part}/${of}`;
  return `${mm < 0 && all > 0 ? "−" : ""}${words} in`;
};

const minus = (text) => text.replace("-", "−");

/** A length of a garment. */
export const length = (mm) => (Number.isFinite(mm) ? (own.inches ? inches(mm) : `${minus(mm.toFixed(1))} mm`) : "not known");

/** How far something may be out: too little for sixteenths. */
export const small = (mm) => {
  if (!Number.isFinite(mm)) return "not known";
  return own.inches ? `${minus((mm / MM_PER_INCH).toFixed(3))} in` : `${minus(mm.toFixed(Math.abs(mm) < 0.995 ? 2 : 1))} mm`;
};

export const day = (on) => {
  const date = new Date(on);
  return Number.isNaN(date.getTime()) ? String(on) : date.toLocaleString("en-GB", { dateStyle: "medium", timeStyle: "short" });
};
