// From what is asked to the groups of frames: bounds as they are typed, filters, then verdicts against the reference.

import { clauseWords, outcome } from "./also.js";
import { bound, interval, isEmpty, trimmed } from "./bounds.js";
import { column, everyPlace, isOwn } from "./catalogue.js";
import { difference, openness, verdict } from "./compare.js";
import { rangeWords } from "./words.js";

const FILTERS = [
  { key: "head", trait: "head_area", column: "head_area_cm2" },
  { key: "mass", trait: "mass", column: "mass_g", unit: "g" },
  { key: "swing", trait: "swingweight", column: "swingweight_kgcm2", unit: "kg.cm2" },
];
/** The question that the state of the controls asks, and the keys of those that are not understood. */
export function questionOf(state, catalogue) {
  const wrong = [];
  const ranges = FILTERS.map((filter) => rangeOf(filter, state, wrong)).filter(Boolean);
  const patterns = [...state.patterns]
    .map((one) => one.split("×").map(Number))
    .sort((a, b) => a[0] - b[0] || a[1] - b[1]);
  if (patterns.length === 1) {
    const exactly = (trait, count) => ({ trait, unit: "", low: bound(String(count)), high: bound(String(count)) });
    const place = ranges.length && ranges[0].trait === "head_area" ? 1 : 0;
    ranges.splice(place, 0, exactly("mains", patterns[0][0]), exactly("crosses", patterns[0][1]));
  }
  const relation = relationOf(state, catalogue, wrong);
  return {
    ranges,
    patterns: patterns.length > 1 ? patterns : [],
    relation,
    also: state.also.map((clause) => clauseWords(clause, catalogue)),
    measuredOnly: state.measuredOnly,
    order: orderOf(state, relation, catalogue),
    confidence: state.confidence,
    usualConfidence: String(Math.round(100 * catalogue.confidence)),
    wrong,
  };
}

function rangeOf({ key, trait, unit = "" }, state, wrong) {
  const range = { trait, unit: key === "head" ? state.headUnit : unit, low: null, high: null };
  for (const end of ["low", "high"]) {
    const typed = state[`${key}_${end}`];
    if (!typed.trim()) continue;
    range[end] = bound(typed);
    if (!range[end] || range[end].strict === (end === "low" ? "<" : ">")) wrong.push(`${key}_${end}`);
  }
  if (isEmpty(range)) wrong.push(`${key}_low`, `${key}_high`);
  return range.low || range.high ? range : null;
}

function relationOf(state, catalogue, wrong) {
  if (state.reference < 0 || state.relation === "all") return null;
  const share = bound(state.within);
  if (state.relation === "like" && !(share && !share.strict && share.value > 0 && share.value <= 100)) wrong.push("within");
  const within = state.relation === "like" && share ? trimmed(share) : catalogue.words.like_percent;
  const own = isOwn(catalogue, state.reference);
  return { kind: state.relation, zone: state.zone, reference: catalogue.ids[state.reference], within, own };
}

function orderOf(state, relation, catalogue) {
  const zone = relation || state.zone === "centre" ? null : state.zone;
  if (state.sort === "closest") return relation ? { by: "closest" } : null;
  if (catalogue.words.orders[state.sort]) return { by: state.sort };
  if (state.sort === "most_open") return { by: "openness", zone, descending: true };
  return zone ? { by: "openness", zone, descending: false } : null;
}

/** Every clause of a question that needs no reference: its words, and whether a frame passes it. */
function clausesOf(question, state, catalogue) {
  const { frames, words } = catalogue;
  const clauses = question.ranges.map((range) => {
    const column = frames[FILTERS.find((one) => one.trait === range.trait)?.column ?? range.trait];
    const { low, high } = interval(range, words.factors[range.unit]);
    return {
      words: rangeWords(range, words),
      passes: (frame) => column?.[frame] != null && column[frame] >= low && column[frame] < high,
    };
  });
  if (question.patterns.length) {
    const wanted = new Set(question.patterns.map((one) => one.join("x")));
    const text = [...wanted].join(" or ");
    clauses.push({ words: text, passes: (frame) => wanted.has(`${frames.mains[frame]}x${frames.crosses[frame]}`) });
  }
  state.also.forEach((clause, place) => {
    if (clause.reference === undefined) clauses.push({ words: question.also[place], passes: (frame) => outcome(clause, frame, catalogue) > 0 });
  });
  if (question.measuredOnly) clauses.push({ words: "measured only", passes: (frame) => catalogue.measured[frame] });
  return clauses;
}

/**
 * The groups of frames: rows {frame, found} by verdict, in the order asked. `matches` and `undecided` are what `ask` answers;
 * `others` fail the relation only; `unknown` are not known in the zone. `left` says how many each clause leaves out.
 */
export function judge(state, catalogue) {
  const question = questionOf(state, catalogue);
  const clauses = clausesOf(question, state, catalogue).map((clause) => ({ ...clause, count: 0 }));
  const rows = { tighter: [], "too close to call": [], "more open": [], like: [], unlike: [], every: [], undecided: [] };
  const compared = state.also.filter(({ reference }) => reference !== undefined);
  const unknown = [];
  const { value } = column(catalogue, `openness_${state.zone}`);
  const known = state.reference < 0 ? null : openness(catalogue, state.reference, state.zone);
  const against = { known, confidence: Number(state.confidence) / 100 };
  let leftOut = 0;
  for (let frame = 0; frame < everyPlace(catalogue); frame += 1) {
    if (frame === state.reference) continue;
    let passes = true;
    for (const clause of clauses) {
      if (isOwn(catalogue, frame) || clause.passes(frame)) continue;
      passes = false;
      clause.count += 1;
    }
    const also = passes ? Math.min(1, ...compared.map((clause) => outcome(clause, frame, catalogue, against.confidence))) : -1;
    if (also < 0) leftOut += 1;
    else if (value[frame] == null || (state.reference >= 0 && !known)) unknown.push({ frame, found: null });
    else place(frame, known ? openness(catalogue, frame, state.zone) : null, state, against, rows, also);
  }
  Object.values(rows).forEach((group) => sortRows(group, state, catalogue));
  return { question, clauses, rows, unknown, leftOut, blank: state.reference >= 0 && !known };
}

function place(frame, figure, state, { known, confidence }, rows, also) {
  if (!known) {
    (also ? rows.every : rows.undecided).push({ frame, found: null });
    return;
  }
  const found = difference(figure, known);
  const said = verdict(found, confidence);
  const wanted = { tighter: "tighter", more_open: "more open" }[state.relation] ?? said;
  const near = Math.abs(found.percent) <= Number(state.within);
  if (!also && (state.relation === "like" ? near : said === wanted)) rows.undecided.push({ frame, found, said });
  else if (state.relation !== "like") rows[said].push({ frame, found, said });
  else rows[near ? "like" : "unlike"].push({ frame, found, said });
}

function sortRows(group, state, catalogue) {
  const value = catalogue.frames[`openness_${state.zone}`];
  const order = catalogue.words.orders[state.sort];
  if (order) {
    const of = ({ frame }) => catalogue.frames[order.column]?.[frame] ?? Infinity * (order.descending ? -1 : 1);
    group.sort((a, b) => (order.descending ? of(b) - of(a) : of(a) - of(b)) || a.frame - b.frame);
    return;
  }
  const by = {
    tightest: (a, b) => value[a.frame] - value[b.frame],
    most_open: (a, b) => value[b.frame] - value[a.frame],
    closest: (a, b) =>
      a.found && b.found ? Math.abs(a.found.log) - Math.abs(b.found.log) : value[a.frame] - value[b.frame],
  }[state.sort];
  group.sort((a, b) => by(a, b) || a.frame - b.frame);
}

/** The groups to show, in order: a key, a title and rows; those that fail the relation asked for are left out. */
export function groupsOf(judged, state) {
  const { rows, unknown } = judged;
  const group = (key, title, shown = rows[key]) => ({ key, title, rows: shown });
  const open = rows.undecided.length ? [group("undecided", "Too close to call in what else is asked")] : [];
  if (state.reference < 0) {
    return [group("every", "Frames"), ...open, ...(unknown.length ? [group("unknown", "Not measured there", unknown)] : [])];
  }
  const close = group("too close to call", "Too close to call");
  if (state.relation === "like") return [group("like", `Within ${state.within} %`), ...open];
  if (state.relation === "tighter") return [group("tighter", "Tighter"), close, ...open];
  if (state.relation === "more_open") return [group("more open", "More open"), close, ...open];
  return [group("tighter", "Tighter"), close, group("more open", "More open"), ...open];
}
