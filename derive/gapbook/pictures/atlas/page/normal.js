// The normal distribution, to about fifteen digits.

const SERIES_END = 2.5;
const FRACTION_TERMS = 80;
/** Beyond this erfc is less than the smallest number there is. */
const NOTHING = 27.3;

/** erfc(x), by the series of erf near zero and by its continued fraction beyond (Abramowitz and Stegun 7.1.6, 7.1.14). */
export function erfc(x) {
  if (x < 0) return 2 - erfc(-x);
  return x < SERIES_END ? 1 - erfNearZero(x) : erfcFarOut(x);
}

function erfNearZero(x) {
  let term = x;
  let sum = x;
  for (let n = 1; Math.abs(term) > 1e-17 * Math.abs(sum); n += 1) {
    term *= (2 * x * x) / (2 * n + 1);
    sum += term;
  }
  return (2 / Math.sqrt(Math.PI)) * Math.exp(-x * x) * sum;
}

function erfcFarOut(x) {
  if (x > NOTHING) return 0;
  let rest = x;
  for (let n = FRACTION_TERMS; n > 0; n -= 1) rest = x + n / 2 / rest;
  return Math.exp(-x * x) / Math.sqrt(Math.PI) / rest;
}

/** Φ(z): how probable a standard normal figure is at most z. */
export function phi(z) {
  return 0.5 * erfc(-z / Math.SQRT2);
}
