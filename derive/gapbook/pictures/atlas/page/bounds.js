// Bounds as they are typed. A bound holds for a value rounded (half up) to the bound's own decimals in its own unit.

const NUMBER = /^(?:\d{1,9}(?:\.\d{1,9})?|\.\d{1,9})$/;
/** Relative allowance for the last digits of binary fractions, so that exact halves round up. */
const NOISE = 1e-12;

/** A bound from what was typed; null where it is no plain number. */
export function bound(typed) {
  const text = typed.trim();
  if (!NUMBER.test(text)) return null;
  const [whole, decimals = ""] = text.split(".");
  const plain = (whole.replace(/^0+(?=\d)/, "") || "0") + (decimals ? `.${decimals}` : "");
  return { text: plain, value: Number(plain), step: 10 ** -decimals.length };
}

/** Where a value [computing unit] must lie for an inclusive range of bounds (either may be null): low ≤ value < high. */
export function interval({ low, high }, factor) {
  return {
    low: low ? (low.value - low.step / 2) * factor * (1 - NOISE) : -Infinity,
    high: high ? (high.value + high.step / 2) * factor * (1 - NOISE) : Infinity,
  };
}

/** A bound's figure without zeros at its end. */
export function trimmed({ text }) {
  return text.includes(".") ? text.replace(/\.?0+$/, "") : text;
}

/** Whether nothing can lie between two bounds. */
export function isEmpty({ low, high }) {
  return Boolean(low && high && low.value > high.value);
}
