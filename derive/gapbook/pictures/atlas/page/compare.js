// Two beds compared: the ratio of their openness, how sure its sign is, and what it is made of. As in science/comparison.py.

import { figure } from "./catalogue.js";

const SERIES_END = 2.5;
const FRACTION_TERMS = 80;
/** Beyond this erfc is less than the smallest number there is. */
const NOTHING = 27.3;

/** The zones that the column `shared` tells of, in its order, and the step of its numbers. */
const SHARED_ZONES = ["centre", "left", "right", "tip", "throat", "sides", "even"];
const SHARED_STEP = 1e-6;

/** What a figure's uncertainty shares with others: by cause, the change of its logarithm by one standard uncertainty. */
export function sharedEffects(text, zone) {
  const place = 1 + SHARED_ZONES.indexOf(zone);
  const parts = text ? text.split("; ").map((part) => part.split(" ")) : [];
  return new Map(parts.map((part) => [part[0], Number(part[place]) * SHARED_STEP]));
}

/** Covariance of ln A and ln B: what instruments and people do to both. */
function covariance(a, b) {
  let sum = 0;
  if (a.shared && b.shared) a.shared.forEach((effect, cause) => { sum += effect * (b.shared.get(cause) ?? 0); });
  return sum;
}

/** δ = ln(A/B) of two figures less what both share, its standard uncertainty, and P(A tighter) = Φ(−δ/u). */
export function difference(a, b) {
  const log = Math.log(a.value / b.value);
  const u = Math.sqrt(Math.max((a.u / a.value) ** 2 + (b.u / b.value) ** 2 - 2 * covariance(a, b), 0));
  const tighter = u === 0 ? (log === 0 ? 0.5 : Number(log < 0)) : 0.5 * erfc(log / u / Math.SQRT2);
  return { log, u, tighter, percent: 100 * Math.expm1(log), uPercent: 100 * Math.exp(log) * u };
}

/** "tighter", "more open" or "too close to call" at this confidence. */
export function verdict(found, confidence) {
  if (found.tighter >= confidence) return "tighter";
  return found.tighter <= 1 - confidence ? "more open" : "too close to call";
}

/** Openness of a frame in a zone, or null if nobody measured it. */
export function openness(catalogue, frame, zone) {
  const found = figure(catalogue, frame, `openness_${zone}`);
  return found && { ...found, shared: sharedEffects(catalogue.frames.shared?.[frame], zone) };
}

/** Two frames in a zone, or null if one of them is not known there. */
export function contrast(catalogue, frame, other, zone) {
  const mine = openness(catalogue, frame, zone);
  const theirs = openness(catalogue, other, zone);
  return mine && theirs ? difference(mine, theirs) : null;
}

/**
 * Parts of ln(A/B) in percent (hundredths of a logarithm, so that they add up), each with its standard uncertainty:
 * head size, string count, drilling and, away from the centre, the zone; null if a part is not known.
 */
export function why(catalogue, frame, other, zone) {
  const a = build(catalogue, frame, zone);
  const b = build(catalogue, other, zone);
  if (!a || !b) return null;
  return {
    size: { percent: 50 * Math.log(a.area / b.area), u: 100 * Math.hypot(a.uHalfArea, b.uHalfArea) },
    count: { percent: 50 * Math.log(b.strings / a.strings), u: 0 },
    drilling: drilling(a, b),
    zone: ratio(a.ratio, b.ratio),
  };
}

/** What the openness of a frame in a zone is made of: head, strings, drilling factors, and the zone over the centre. */
function build(catalogue, frame, zone) {
  const even = figure(catalogue, frame, "openness_even");
  if (!even) return null;
  const strings = catalogue.frames.mains[frame] * catalogue.frames.crosses[frame];
  const drilled =
    zone === "even" ? [] : ["drilling_main", "drilling_cross"].map((name) => figure(catalogue, frame, name));
  return {
    strings,
    area: (even.value / 10) ** 2 * strings,
    uHalfArea: even.u / even.value,
    drilled: drilled.length === 2 && drilled.every(Boolean) ? drilled : null,
    ratio: zone === "even" || zone === "centre" ? null : overCentre(catalogue, frame, zone),
  };
}

function overCentre(catalogue, frame, zone) {
  const there = openness(catalogue, frame, zone);
  const centre = openness(catalogue, frame, "centre");
  if (!there || !centre) return null;
  const value = there.value / centre.value;
  const opening = zone === "sides" ? figure(catalogue, frame, "side_opening") : null;
  return { value, u: opening ? opening.u : value * Math.hypot(there.u / there.value, centre.u / centre.value) };
}

function drilling(a, b) {
  if (!a.drilled || !b.drilled) return null;
  const log = (pair) => Math.log(pair[0].value) + Math.log(pair[1].value);
  const relative = [...a.drilled, ...b.drilled].map((one) => one.u / one.value);
  return { percent: 50 * (log(a.drilled) - log(b.drilled)), u: 50 * Math.hypot(...relative) };
}

function ratio(a, b) {
  return a && b
    ? { percent: 100 * Math.log(a.value / b.value), u: 100 * Math.hypot(a.u / a.value, b.u / b.value) }
    : null;
}

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
