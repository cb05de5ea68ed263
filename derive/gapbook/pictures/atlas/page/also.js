// What a question asks besides what the sentence of fields holds: its words in the question language, and how a frame fares.

import { interval } from "./bounds.js";
import { figure, isOwn } from "./catalogue.js";
import { difference, openness, phi, verdict } from "./compare.js";
import { rangeWords, referenceWords, relationWords } from "./words.js";

/** Differences of exact figures below this are none. As in questions/aims.py. */
const ROUNDING = 1e-9;
/** Traits that are computed; every other one is a column. */
const COMPUTED = {
  evenness: (frames, frame) => {
    const value = frames.uniformity[frame];
    return { value: -Math.abs(Math.log(value)), u: frames.u_uniformity[frame] / value };
  },
  drilling: (frames, frame) => {
    const [main, cross] = [frames.drilling_main[frame], frames.drilling_cross[frame]];
    const u = Math.hypot(frames.u_drilling_main[frame] / main, frames.u_drilling_cross[frame] / cross) / 2;
    return { value: Math.log(main * cross) / 2, u };
  },
};
const NEEDED = { evenness: ["uniformity"], drilling: ["drilling_main", "drilling_cross"] };

/** A trait of a frame in which frames are compared, {value, u}, or null if it is not known. */
export function traitOf(catalogue, frame, trait) {
  const { frames, words } = catalogue;
  const needed = NEEDED[trait] ?? [words.compared[trait].column];
  if (isOwn(catalogue, frame) || needed.some((name) => frames[name]?.[frame] == null)) return null;
  if (COMPUTED[trait]) return COMPUTED[trait](frames, frame);
  return figure(catalogue, frame, needed[0]) ?? { value: frames[needed[0]][frame], u: 0 };
}

/** Whether a clause holds of a frame: 1, -1 if it fails, 0 if it is too close to call or not known. */
export function outcome(clause, frame, catalogue, confidence) {
  if (clause.type === "without") return frame === clause.frame ? -1 : 1;
  if (clause.type === "either") return clause.ranges.some((range) => lies(range, frame, catalogue)) ? 1 : -1;
  if (clause.type === "not") return lies(clause.range, frame, catalogue) ? -1 : 1;
  if (clause.type === "range") return lies(clause.range, frame, catalogue) ? 1 : -1;
  if (clause.type === "none") return clause.patterns.some(([mains, crosses]) => has(catalogue, frame, mains, crosses)) ? -1 : 1;
  if (clause.type === "relation") return ofBed(clause, frame, catalogue, confidence);
  const [mine, theirs] = [frame, clause.reference].map((one) => traitOf(catalogue, one, clause.trait));
  if (!mine || !theirs) return 0;
  const less = clause.kind.endsWith("less");
  const side = sideOf(mine.value - theirs.value, Math.hypot(mine.u, theirs.u), confidence, less);
  return held(less ? -side : side, clause.kind);
}

const COLUMNS = {
  side_opening: "side_opening", density: "density_centre_per_cm2", head_area: "head_area_cm2", length: "length_mm", mesh: "openness", openness: "openness", balance: "balance_points" };
/** Mesh is a tenth of openness, and head light is negative. */
const TIMES = { mesh: 0.1 };

/** Whether a frame's figure lies in a range; `lean` -1 turns the sign of a balance that is head light. */
function lies(range, frame, catalogue) {
  const { trait, zone, unit, lean = 1 } = range;
  const value = catalogue.frames[zone ? `${COLUMNS[trait]}_${zone}` : COLUMNS[trait]]?.[frame];
  if (value == null) return false;
  const { low, high } = interval(range, catalogue.words.factors[unit] ?? 1);
  const at = value * (TIMES[trait] ?? 1) * lean;
  return at >= low && at < high;
}

function has(catalogue, frame, mains, crosses) {
  return catalogue.frames.mains[frame] === mains && catalogue.frames.crosses[frame] === crosses;
}

/** -1 if the first is surely less, 1 if more; of two exact figures that are equal, the side that fails. */
function sideOf(apart, u, confidence, less) {
  if (u === 0) return Math.abs(apart) > ROUNDING ? Math.sign(apart) : less ? 1 : -1;
  const sure = phi(apart / u);
  return sure >= confidence ? 1 : sure <= 1 - confidence ? -1 : 0;
}

function held(side, kind) {
  return kind.startsWith("not_") ? (side > 0 ? -1 : 1) : side;
}

function ofBed({ kind, zone, reference, within }, frame, catalogue, confidence) {
  const [mine, theirs] = [frame, reference].map((one) => openness(catalogue, one, zone));
  if (!mine || !theirs) return 0;
  const found = difference(mine, theirs);
  if (kind === "like") return Math.abs(found.percent) <= Number(within) ? 1 : -1;
  const side = { tighter: -1, "more open": 1 }[verdict(found, confidence)] ?? 0;
  return held(kind.endsWith("tighter") ? -side : side, kind);
}

/** A clause in words of the question language. */
export function clauseWords(clause, catalogue) {
  const { words, ids } = catalogue;
  const reference = referenceWords(ids[clause.reference] ?? "");
  if (clause.type === "without") return `without ${referenceWords(ids[clause.frame])}`;
  if (clause.type === "either") return eitherWords(clause.ranges, words);
  if (clause.type === "not") return `not ${rangeWords(clause.range, words)}`;
  if (clause.type === "range") return rangeWords(clause.range, words);
  if (clause.type === "none") return clause.patterns.map((pair) => `not ${pair.join("x")}`).join(", ");
  if (clause.type === "relation") {
    const denied = clause.kind.startsWith("not_");
    const kind = clause.kind.replace("not_", "");
    return (denied ? "not " : "") + relationWords({ ...clause, kind, reference: ids[clause.reference] }, words);
  }
  const { less, more } = words.compared[clause.trait];
  const denied = clause.kind.startsWith("not_") ? "not " : "";
  return `${denied}${clause.kind.endsWith("less") ? less : more} than ${reference}`;
}

/** Alternatives of one trait in words: `head 95 or 97 sq in`. */
export function eitherWords(ranges, words) {
  const each = ranges.map((one) => rangeWords(one, words));
  const [unit, title] = [words.units[ranges[0].unit], words.traits[ranges[0].trait]];
  return `${title} ${each.map((one) => one.slice(title.length + 1, -unit.length - 1)).join(" or ")} ${unit}`;
}
