// Bounds as they are typed, and which values lie between them. As in questions/ranges.py.

const NUMBER = /^([<>]?) ?(\d{1,9}(?:\.\d{1,9})?|\.\d{1,9})$/;
/** Allowance for the last digits of binary fractions, so that a value at a bound is at it. */
const NOISE = 1e-12;
/** Traits of whole numbers. */
const COUNTS = ["mains", "crosses"];

/** A bound from what was typed, `320`, or `<320` and `>320` for one that is not in the range; null if it is no plain number. */
export function bound(typed) {
  const found = NUMBER.exec(typed.trim());
  if (!found) return null;
  const [whole, decimals = ""] = found[2].split(".");
  const plain = (whole.replace(/^0+(?=\d)/, "") || "0") + (decimals ? `.${decimals}` : "");
  return { text: plain, value: Number(plain), step: 10 ** -decimals.length, strict: found[1] };
}

/** Whether two bounds are a figure alone, which means half a unit of its last digit either way. */
function isFigure({ low, high }) {
  return Boolean(low && high && !low.strict && !high.strict && low.value === high.value && low.step === high.step);
}

/** Whether values are rounded to a bound: to a figure alone, to a count, and to a head area in whole square inches. */
function rounds(range, { step }) {
  const byTrade = COUNTS.includes(range.trait) || (range.trait === "head_area" && range.unit === "[sin_i]" && step === 1);
  return isFigure(range) || byTrade;
}

/** Where a value [computing unit] must lie for a range, whose bounds may be null: low ≤ value < high. */
export function interval(range, factor) {
  return { low: limit(range, "low", factor) ?? -Infinity, high: limit(range, "high", factor) ?? Infinity };
}

function limit(range, end, factor) {
  const one = range[end];
  if (!one) return null;
  const outwards = (end === "low" ? -1 : 1) * (one.strict ? -1 : 1);
  if (rounds(range, one)) return (one.value + (outwards * one.step) / 2) * factor * (1 - NOISE);
  const at = one.value * factor;
  return at + NOISE * Math.max(Math.abs(at), 1) * outwards;
}

/** A bound's figure without zeros at its end. */
export function trimmed({ text }) {
  return text.includes(".") ? text.replace(/\.?0+$/, "") : text;
}

/** Whether nothing can lie between two bounds. */
export function isEmpty(range) {
  if (!range.low || !range.high) return false;
  const { low, high } = interval(range, 1);
  return low >= high || range.low.value > range.high.value;
}
