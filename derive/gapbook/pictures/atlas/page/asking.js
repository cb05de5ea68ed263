// A question in one's own words, as far as the page can answer it. Parts of the text that are understood are taken out of it one
// after the other; what is left must be words that say nothing, or else nothing is answered: a question is never half understood.

import { traitOf } from "./also.js";
import { bound, isEmpty } from "./bounds.js";
import { isOwn } from "./catalogue.js";
import { openness } from "./compare.js";
import { spelt } from "./naming.js";
import { comparisonsOf } from "./relating.js";

const FIGURE = "\\d{1,4}(?:\\.\\d+)?";
const RANGE = `(?:(?:between|from|in|of) )?(${FIGURE}) ?(?:-|\\.\\.|to|and|until) ?(${FIGURE})`;
const UNDER = "(?:under|below|less than|lighter than|lower than|smaller than|shorter than|<|sub)";
const OVER = "(?:over|above|more than|heavier than|higher than|greater than|bigger than|longer than|>)";
const MOST = "(?:at most|up to|no more than|not more than|no heavier than|not heavier than|no higher than|not over|not above|nothing over|nothing above|not exceeding|maximum|max|<=|≤)";
const LEAST = "(?:at least|no less than|not less than|minimum|min|>=|≥)";
const LESS = "(?: or (?:less|under|lighter|smaller|below))";
const MORE = "(?:\\+| plus| or (?:more|over|heavier|bigger|above)| and up)";
/** What a range is of: its field, the words before it, its units, and whether the words or a unit must be there. */
const MEASURES = [
  { key: "mass", named: "(?:mass|weight|weighs?|weighing|wt|m)", unit: "(?:g|gr|grams?|grammes?)\\b" },
  { key: "swing", named: "(?:swing ?weight|sw)", unit: "(?:kg[·. ]?cm[²2])?" },
  { key: "head", named: "(?:head(?:s| size| area)?|hd)", unit: "(?:sqin|\"|cm2)" },
];
const AROUND = "(?:about|around|roughly|approximately|approx\\.?|circa|~)";
const ZONED = "(?:(centre|center|middle|sides?|tip|throat) )?";
const ZONES = { center: "centre", middle: "centre", side: "sides" };
/** Figures that the sentence of fields has no place for: words before them, a zone among these, and units. */
const FURTHER = [
  { trait: "mesh", named: `${ZONED}mesh(?: (?:size|of|is))? ?`, unit: "(?:mm\\b|millimet(?:re|er)s?)?(?: (?:in|at|on) the (?:centre|center|middle))?" },
  { trait: "openness", named: `${ZONED}openness(?: (?:of|is))? ?`, unit: "" },
  { trait: "side_opening", named: "side opening(?: (?:of|is))? ?", unit: "(?:%|percent|per cent)" },
  { trait: "density", named: "density(?: (?:of|is))? ?", unit: "(?:(?:\\/|per) ?cm2)?" },
  { trait: "balance", named: "(?:balance )?", unit: "(?:points?|pts?\\.?)? ?(?:head[- ]?light|hl|head[- ]?heavy|hh)\\b" },
  { trait: "length", named: "(?:length|long)(?: of)? ?", unit: "(?:in(?:ch(?:es)?)?\\b|mm\\b)?" },
  { trait: "length", named: "", unit: "in(?:ch(?:es)?)?\\b(?: long| in length)?" },
];
const BOUNDS = [
  [`${AROUND} ?(${FIGURE})`, "about"],
  [`(${FIGURE}) ?(?:±|\\+\\/-) ?(${FIGURE})`, "around"],
  [RANGE, "both"],
  [`${MOST} ?(${FIGURE})`, "high"],
  [`${LEAST} ?(${FIGURE})`, "low"],
  [`${UNDER} ?(${FIGURE})`, "under"],
  [`${OVER} ?(${FIGURE})`, "over"],
  [`(${FIGURE})(?: ?(?:points|pts))?(?:\\+| or more)`, "low"],
  [`(${FIGURE})`, "exactly"],
];
const ABOUT_OF = { mass: "mass g", swing: "swingweight kg.cm2", head: "head_area [sin_i]" };
const NOT = "¬";
const PATTERN = "\\d{2}(?:x| by |\\/)\\d{2}s?";
const HEADS = "(?:8[5-9]|9\\d|1[0-2]\\d)";

/** A difference with its figure (`10 g lighter`), and a figure of the frame that is named (`my §7§ weighs 324 g`). */
const AMBIGUOUS = [
  /\d ?(?:g|gr|grams?|points?|pts?|mm|kg ?cm2?|units?|%|percent)\.? (?:lighter|heavier|shorter|longer|more|less|lower|higher|tighter|denser|looser|softer|stiffer|bigger|smaller)\b/,
  /(?<!than )(?<!than the )(?<!like )(?<!like the )(?<!of )(?<!of the )§\d+§ (?:weighs|is|has|was|at|with)\b[^,;.]*\d(?!\d*§)/,
];
/** After these a number without a unit is no head. */
const NO_HEAD = /(?:under|below|over|above|than|<|>|=|about|around|most|least|max|min|~|no|not|or|swing ?weight|sw|mass|openness)\s*$/;
const COUNTED = {
  one: "1", two: "2", three: "3", four: "4", five: "5", six: "6", seven: "7", eight: "8", nine: "9", ten: "10", twelve: "12",
  fourteen: "14", fifteen: "15", sixteen: "16", seventeen: "17", eighteen: "18", nineteen: "19", twenty: "20",
};

/** Words of the page's own that say nothing once everything else was taken. */
const LEFT = ["frame", "frames", "racquet", "racquets", "racket", "rackets", "bed", "beds", "string", "strings", "pattern", "patterns", "than", "against", "first", "head", "heads", "mains", "crosses", "also", "but", "and", "as", "then", "plus", "=", "-", "'s", "what", "what's", "whats", "of", "in", "too", "list", "suggest", "recommend", "pick", "name", "so", "one", "to", "by", "w/", "do", "that", "it", "this", "which", "these", "those", "them"];

function isNoise(word, { words }) {
  words.set ??= new Set([...words.noise, ...LEFT]);
  return words.set.has(word);
}

/**
 * What a text asks: {fields, look, note}, or {problem} with the words that were not understood. `fields` are those of the
 * state that differ from a question that asks nothing.
 */
export function asked(text, catalogue, names) {
  const reading = readingOf(text, catalogue, names);
  if (isAbout(reading)) return reading.problem ? { problem: reading.problem } : { fields: reading.fields, look: reading.look, note: "" };
  readClauses(reading);
  if (reading.problem) return { problem: reading.problem };
  placeRelations(reading);
  if (reading.problem) return { problem: reading.problem };
  const { fields, also } = reading;
  if (!Object.keys(fields).length && !reading.patterns.size && !also.length) return { problem: "nothing in it is a question" };
  if (reading.patterns.size) fields.patterns = reading.patterns;
  if (also.length) fields.also = also;
  return { fields, look: reading.look, note: reading.note };
}

/** The clauses of a text that are asked besides, relations and all; none if it is not understood. */
export function clausesOfText(text, catalogue, names) {
  if (!text.trim()) return [];
  const reading = readingOf(text, catalogue, names);
  readClauses(reading);
  return reading.problem ? [] : [...reading.also, ...reading.relations];
}

function readingOf(text, catalogue, names) {
  const reading = {
    text: ` ${denied(plainly(text), catalogue)} `, fields: {}, frames: [], look: -1, note: "", problem: "", patterns: new Set(), also: [], relations: [], catalogue,
  };
  takeNames(reading, names);
  return reading;
}

/** Everything but a question about frames; what is left must be words that say nothing. */
function readClauses(reading) {
  if (AMBIGUOUS.some((words) => words.test(reading.text))) reading.problem = "how much less or more than a frame, or what a frame has, cannot be asked";
  for (const take of [takeRest, takeFirst, takeWithout, takeNoPatterns, takeNoHeads, takePatterns, takeCounts, takeFurther, takeEither, takeMeasures, takeBareHeads, takeOrder, takeRelations]) take(reading);
  if (reading.problem) return;
  const left = reading.text.split(/[\s,;:.!?&()]+/).filter((word) => word && !isNoise(word, reading.catalogue));
  if (left.length) reading.problem = `“${left.slice(0, 4).join(" ").replaceAll("§", "")}” is not understood here`;
}

function plainly(text) {
  return text
    .toLowerCase()
    .replace(/[’‘]/g, "'")
    .replace(/[–—−]/g, "-")
    .replace(/(\d) ?[x×] ?(\d)/g, "$1x$2")
    .replace(/\b(?:square|sq\.?) ?(?:inch(?:es)?|in\b\.?)|\bsqin\b|(?<![a-z])in(?:²|2|\^2)/g, "sqin")
    .replace(/\bhead ([^,;]*?\d) ?inch(?:es)?\b/g, "head $1 sqin")
    .replace(/\bswing weight/g, "swingweight")
    .replace(/\b(?:one|two|three|four|five|six|seven|eight|nine|ten|twelve|fourteen|fifteen|sixteen|seventeen|eighteen|nineteen|twenty)\b(?= (?:mains?|crosses|cross|points?|tightest|most|loosest|densest|closest|lightest|heaviest|lowest|highest|smallest|biggest))|(?<=\b(?:top|first|give me) )(?:two|three|four|five|six|seven|eight|nine|ten)\b/g, (word) => COUNTED[word])
    .replace(/cm(?:²|\^2)/g, "cm2")
    .replace(/\b(?:not|isn't|aren't) (?:quite |so |as )*as heavy(?: as)?\b/g, "lighter than")
    .replace(/\b(?:not|isn't|aren't) (?:quite |so )?as (?:tight|dense) as\b/g, "more open than")
    .replace(/\b(?:not|isn't|aren't) (?:quite |so )?as (?:open|loose) as\b/g, "tighter than")
    .replace(/\bnot (?:only|just)\b/g, "")
    .replace(/(\d)(sqin|cm2|gr?\b|grams?\b|%)/g, "$1 $2")
    .replace(/\b(?:i'd|i would|we'd|we would|should) (?:also )?like\b/g, "i want")
    .replace(/(?<![<>=!]) ?= ?/g, " ")
    .replace(/\bhl ?(\d+(?:\.\d+)?) ?(?:points?|pts?)?(\+)?/g, "$1 points$2 hl")
    .replace(/\b(mains|crosses) (\d{2})(?! ?(?:sqin|g\b|mm|or|to|-|x|\d))/g, "$2 $1")
    .replace(/["”“]/g, '"')
    .replace(/\s+/g, " ")
    .trim();
}

/** Words that deny, as the question language has them, all as one sign: what is left of it is never passed over. */
function denied(text, { words }) {
  words.denial ??= new RegExp(`(?<![a-z])(?:${words.denials.filter((one) => /^[a-z]/.test(one)).map((one) => one.replaceAll(".", "\\.")).join("|")})(?![a-z])`, "g");
  return text
    .replace(new RegExp(MOST.replace("at most|", "").replace("|<=|≤", "") + "(?= ?\\d)", "g"), "at most")
    .replace(new RegExp(LEAST.replace("at least|", "").replace("|>=|≥", "") + "(?= ?\\d)", "g"), "at least")
    .replace(words.denial, "¬")
    .replace(/¬ (?:an? |the |any )?(?=¬)/g, "");
}

/** Take a match out of the text; the match, or null. */
function take(reading, pattern) {
  const found = pattern.exec(reading.text);
  if (found) reading.text = `${reading.text.slice(0, found.index)} , ${reading.text.slice(found.index + found[0].length)}`;
  return found;
}

/** Put §7§ where frame 7 is named: the longest name first, over whole words. */
function takeNames(reading, names) {
  const words = reading.text.split(" ").filter(Boolean);
  const made = [];
  for (let at = 0; at < words.length; ) {
    let taken = 0;
    for (let count = Math.min(7, words.length - at); count > 0 && !taken; count -= 1) {
      const phrase = words.slice(at, at + count).join(" ").replace(/'s$/, "");
      const key = spelt(phrase.replace(/[?!.,;:]+$/, ""));
      if (!/[a-z]/.test(key) || /[^a-z0-9?!.,;:'")]$/.test(phrase) || /^[^a-z0-9"]/.test(phrase) || !names.has(key)) continue;
      const frame = names.get(key);
      if (frame === null) reading.problem = `“${phrase}” is the name of several frames: type the id of one`;
      else reading.frames.push(frame);
      made.push(`§${frame}§`, ...(/[,;.?!:]$/.test(phrase) ? [","] : []));
      taken = count;
    }
    if (!taken) made.push(words[at]);
    at += taken || 1;
  }
  reading.text = ` ${made.join(" ")} `;
}

/** A question about one frame, or about two: shown, or set against each other. */
function isAbout(reading) {
  const bare = reading.text.replace(/[?!.,]/g, " ").replace(/\s+/g, " ").trim();
  const [one, two] = reading.frames;
  const name = "§\\d+§";
  if (reading.frames.length === 1) {
    const words = new RegExp(`^(?:(?:how (?:open|tight|dense) (?:is|are)|tell me about|show(?: me)?|info on|specs(?: of)?|what about)(?: the| my| a)* )?${name}$`);
    if (words.test(bare)) reading.look = one;
    return words.test(bare);
  }
  if (reading.frames.length !== 2) return false;
  const the = "(?:the |my |a )?";
  const pair = new RegExp(
    `^(?:(?:compare|what is the difference between|what's the difference between|whats the difference between|difference between|is|why is|how much (?:tighter|more open) is) )?${the}${name} (?:vs|v|versus|against|with|and|to|or|tighter than|denser than|more open than|looser than|than) ${the}${name}(?: (?:in|at) the (?:centre|middle))?$`,
  );
  if (!pair.test(bare)) return false;
  Object.assign(reading.fields, { reference: two, relation: "all" });
  reading.look = one;
  return true;
}

function takePatterns(reading) {
  const one = "\\d{2}(?:x| by |\\/|-)\\d{2}s?";
  const list = take(reading, new RegExp(`(?<![\\d.])(?:either )?${one}(?:(?: ?, ?| or |, or )${one})*(?!\\d|\\.\\d| ?(?:g\\b|mm|sqin|cm2|crosses|mains|points|pts|x's|cross))`));
  if (!list) return;
  const each = list[0].match(/\d{2}(?:x| by |\/|-)\d{2}/g).map((text) => text.split(/x| by |\/|-/).map(Number));
  if (each.length > 1 && !/ or /.test(list[0])) reading.problem = "a frame has one pattern: write “or” between several";
  if (each.some((pair) => pair.some((count) => count < 12 || count > 24))) reading.problem = `“${list[0].trim()}” is no string pattern`;
  for (const [mains, crosses] of each) reading.patterns.add(`${mains}×${crosses}`);
}

/** Counts of mains or crosses alone: all patterns of the catalogue that have them. */
function takeCounts(reading) {
  const words = { mains: "(?:mains?|main strings?|m\\b)", crosses: "(?:crosses|cross(?: strings?)?|x's)" };
  const wanted = {};
  for (const [family, name] of Object.entries(words)) {
    const found = take(reading, new RegExp(`(?<![\\d.x])(\\d{2})(?:(?: ?(?:-|to) ?)(\\d{2})|((?: or \\d{2})+))? ?${name}`));
    if (!found) continue;
    const first = Number(found[1]);
    const others = (found[3] ?? "").match(/\d{2}/g)?.map(Number) ?? [];
    wanted[family] = (count) => (found[2] ? count >= first && count <= Number(found[2]) : [first, ...others].includes(count));
  }
  if (!Object.keys(wanted).length) return;
  const { mains, crosses } = reading.catalogue.frames;
  for (let frame = 0; frame < reading.catalogue.count; frame += 1) {
    if ((wanted.mains?.(mains[frame]) ?? true) && (wanted.crosses?.(crosses[frame]) ?? true)) reading.patterns.add(`${mains[frame]}×${crosses[frame]}`);
  }
  if (!reading.patterns.size) reading.problem = "no frame has so many strings";
}

/** Comparisons with frames: the first of beds is the page's own, the others are asked besides. */
function takeRelations(reading) {
  const { relations, rest, problem } = comparisonsOf(reading.text);
  if (problem) {
    reading.problem ||= problem;
    return;
  }
  const own = relations.some(({ reference }) => isOwn(reading.catalogue, reference));
  if (own && !reading.catalogue.hasOwn) reading.problem ||= "your bed is not typed yet";
  if (own && (relations.length > 1 || relations[0].type !== "relation")) reading.problem ||= "your own bed stands in one comparison at a time";
  if (relations.some((one, place) => relations.slice(0, place).some((other) => contradicts(one, other))))
    reading.problem ||= "nothing can be both";
  reading.relations = relations.map((one) => (one.kind === "like" ? { ...one, within: one.within ?? reading.catalogue.words.like_percent } : one));
  reading.text = rest;
  if (!relations.length) takeZone(reading);
  if (!relations.length && /§/.test(reading.text)) reading.problem ||= "it names a frame, but not whether others are to be tighter, more open or like it";
}

/** A zone that is only looked at: `tightest sides`. */
function takeZone(reading) {
  const found = take(reading, /(?<![a-z])(?:in the |at the |on the )?(centre|center|middle|sides?|tip|throat)(?![a-z])/);
  if (found) reading.fields.zone = ZONES[found[1]] ?? found[1];
}

function contradicts(one, other) {
  if (one.reference !== other.reference || one.trait !== other.trait || one.zone !== other.zone) return false;
  return one.kind !== other.kind && one.kind !== "like" && other.kind !== "like";
}

/** Put relations into the page's fields: one of beds where there is one, and the frame they are with. */
function placeRelations(reading) {
  const { relations, fields, also } = reading;
  if (!relations.length) return;
  for (const { type, trait, zone, reference } of relations) {
    const known = type === "trait" ? traitOf(reading.catalogue, reference, trait) : openness(reading.catalogue, reference, zone);
    if (!known && type === "trait") reading.problem ||= `that figure of ${reading.catalogue.ids[reference]} is not known`;
    if (!known && relations.length > 1) reading.problem ||= `the bed of ${reading.catalogue.ids[reference]} is not known there`;
  }
  const main = relations.find(({ kind }) => ["tighter", "more_open", "like"].includes(kind));
  fields.reference = (main ?? relations[0]).reference;
  fields.relation = main ? main.kind : "all";
  if (main) fields.zone = main.zone;
  if (main?.kind === "like") fields.within = main.within;
  also.push(...relations.filter((one) => one !== main));
}

/** Frames that are left out. */
function takeWithout(reading) {
  const list = take(reading, new RegExp(`${NOT} (?:the )?§\\d+§(?: ?(?:,|and|or|nor|, and) (?:the )?§\\d+§)*`));
  if (!list) return;
  for (const [, frame] of list[0].matchAll(/§(\d+)§/g)) reading.also.push({ type: "without", frame: Number(frame) });
}

/** Patterns that are not wanted; with others that are, it would not be clear which is which. */
function takeNoPatterns(reading) {
  const list = take(reading, new RegExp(`${NOT} (?:an? |the |any )?${PATTERN}(?: ?(?:,? and|,? or|nor) ${PATTERN})*(?! ?(?:g\\b|mm|sqin|cm2))`));
  if (!list) return;
  const patterns = patternsIn(list[0]);
  reading.also.push({ type: "none", patterns });
  if (new RegExp(`(?<![\\d.])${PATTERN}`).test(reading.text)) reading.problem ||= "it is not clear which patterns are wanted";
}

function patternsIn(text) {
  return [...text.matchAll(/(\d{2})(?:x| by |\/|-)(\d{2})/g)].map(([, mains, crosses]) => [Number(mains), Number(crosses)]);
}

/** `no 100s`, `not 98 sq in`. */
function takeNoHeads(reading) {
  const found = take(reading, new RegExp(`${NOT} (?:the |any )?(${HEADS})(?:s| ?sqin)(?![a-z0-9])`));
  if (!found) return;
  reading.also.push({ type: "not", range: { trait: "head_area", unit: "[sin_i]", low: bound(found[1]), high: bound(found[1]) } });
  if (new RegExp(`(?<![\\d.x])${HEADS}(?:s| ?sqin)`).test(reading.text)) reading.problem ||= "it is not clear which heads are wanted";
}

/** `95, 97 or 98 sq in`, `98s or 100s`. */
function takeEither(reading) {
  const one = `${HEADS}s?(?: ?sqin)?`;
  const list = take(reading, new RegExp(`(?<![\\d.\\w])(?:heads? (?:of |size )?)?(?:either )?${one}(?: ?, ?${one})*,? or ${one}(?=[\\s,.?!]|$)(?! ?(?:g\\b|mm|cm2|kg|points|%|mains|crosses|or |and |to ))`));
  if (!list) return;
  const before = reading.text.slice(0, list.index);
  if (NO_HEAD.test(before)) reading.problem ||= "a number needs a unit, such as sq in or g";
  const ranges = [...list[0].matchAll(/\d+/g)].map(([text]) => ({ trait: "head_area", unit: "[sin_i]", low: bound(text), high: bound(text) }));
  reading.also.push({ type: "either", ranges });
}

/** Balance, length, mesh and openness. */
function takeFurther(reading) {
  for (const { trait, named, unit } of FURTHER)
    for (const [bounds, kind] of BOUNDS) {
      const after = unit ? ` ?(${unit})` : "()";
      const found = take(reading, new RegExp(`(?<![a-z\\d.])${named}${bounds}${after}(?!\\d|\\.\\d)`));
      if (found) addRange(reading, trait, kind, found);
    }
}

function addRange(reading, trait, kind, found) {
  const numbers = found.slice(1).filter((part) => part && /^[\d.]+$/.test(part));
  const zoned = trait === "mesh" || trait === "openness";
  const zone = zoned ? (ZONES[found[1]] ?? (/^[a-z]/.test(found[1] ?? "") ? found[1] : "centre")) : undefined;
  const unit = { balance: "points", length: /mm/.test(found[0]) ? "mm" : "[in_i]", mesh: "mm", openness: "", side_opening: "%", density: "/cm2" }[trait];
  const lean = trait === "balance" ? (/heavy|hh/.test(found[0]) ? 1 : -1) : undefined;
  const [low, high] = endsOf(kind, numbers, reading.catalogue.words.about[`${trait} ${unit}`]);
  if (low === null) reading.problem ||= "how near “about” is cannot be said of this";
  const range = { trait, zone, unit, lean, low: low ? bound(low) : null, high: high ? bound(high) : null };
  if (trait === "length" && unit === "[in_i]" && [low, high].some((end) => end && !/^[<>]?2[5-9]/.test(end))) reading.problem ||= "a length in inches is 25 to 29";
  if (isEmpty(range)) reading.problem ||= "no figure is in this range";
  if (reading.also.some((one) => one.type === "range" && one.range.trait === trait && one.range.zone === zone)) reading.problem ||= "two bounds of one figure: give a range";
  reading.also.push({ type: "range", range });
}

/** The ends of a range, of one kind of bounds: `about` needs to know how far it reaches. */
function endsOf(kind, [first, second], about) {
  const apart = (half) => [-1, 1].map((way) => String(Number((Number(first) + way * Number(half)).toFixed(6))));
  if (kind === "about") return about ? apart(about) : [null, null];
  if (kind === "around") return apart(second);
  return { both: [first, second], high: ["", first], low: [first, ""], under: ["", `<${first}`], over: [`>${first}`, ""], exactly: [first, first] }[kind];
}

function takeMeasures(reading) {
  for (const { key, named, unit } of MEASURES) {
    const gap = `(?: (?:is|of|must be|stays?|must stay|=))?`;
    const whole = (bounds) => [`(?<![a-z])${named}${gap} ?${bounds} ?(${unit})?`, ...(key === "swing" ? [`${bounds} ?(?:${named})`] : [`(?<![\\d.])${bounds} ?(${unit})`])];
    const about = (value) => endsOf("about", [value], reading.catalogue.words.about[ABOUT_OF[key]]);
    const forms = [
      [`${AROUND} ?(${FIGURE})`, about],
      [`(${FIGURE}) ?(?:±|\\+\\/-) ?(${FIGURE})`, (middle, half) => [-1, 1].map((way) => String(Number(middle) + way * Number(half)))],
      [`${RANGE}`, (low, high) => [low, high]],
      [`${MOST} ?(${FIGURE})`, (high) => ["", high]],
      [`${LEAST} ?(${FIGURE})`, (low) => [low, ""]],
      [`${UNDER} ?(${FIGURE})`, (high) => ["", `<${high}`]],
      [`${OVER} ?(${FIGURE})`, (low) => [`>${low}`, ""]],
      [`(${FIGURE})(?: ?${unit || "x{0}"})?${LESS}`, (high) => ["", high]],
      [`(${FIGURE})(?: ?${unit || "x{0}"})?${MORE}`, (low) => [low, ""]],
      [`(${FIGURE})`, (value) => [value, value]],
    ];
    for (const [bounds, ends] of forms) {
      const texts = bounds.endsWith(LESS) || bounds.endsWith(MORE) ? [`(?<![a-z])${named}${gap} ?${bounds}`, ...(key === "swing" ? [] : [bounds.replace(`(?: ?${unit})?`, ` ?(${unit})`)])] : whole(bounds);
      const found = texts.map((one) => take(reading, new RegExp(`${one}(?!\\d|\\.\\d)`))).find(Boolean);
      if (!found) continue;
      const numbers = found.slice(1).filter((part) => part && /^[\d.]+$/.test(part));
      const [low, high] = ends(...numbers);
      if (reading.fields[`${key}_low`] !== undefined) reading.problem = "two bounds of one figure: give a range, 300 to 320";
      Object.assign(reading.fields, { [`${key}_low`]: low, [`${key}_high`]: high });
      if (key === "head" && /cm2/.test(found[0]) && bounds.startsWith(AROUND)) reading.problem ||= "write the range of cm² that you mean";
      if (key === "head") reading.fields.headUnit = /cm2/.test(found[0]) ? "cm2" : "[sin_i]";
    }
  }
}

/** A head size without a unit, as the trade says it: 98, 98s, 95-98, 100+. */
function takeBareHeads(reading) {
  if (reading.fields.head_low !== undefined) return;
  const found = take(reading, /(?<=[\s,])(?:between )?((?:8[5-9]|9\d|1[0-2]\d)(?:\.\d)?)(?: ?(?:-|to|and|\.\.) ?((?:8[5-9]|9\d|1[0-2]\d)(?:\.\d)?))?(s|\+)?(?=[\s,.?!:])/);
  if (!found) return;
  const before = reading.text.slice(0, found.index);
  if (/^ ?between/.test(found[0].trim()) && !found[2]) reading.problem = "a range needs both ends";
  if (NO_HEAD.test(before)) {
    reading.problem = `“${found[0].trim()}” of what? Add a unit, such as sq in or g`;
    return;
  }
  reading.fields.head_low = found[1];
  reading.fields.head_high = found[3] === "+" ? "" : (found[2] ?? found[1]);
}

function takeOrder(reading) {
  const { orders } = reading.catalogue.words;
  const end = "(?: (?:ones?|frames?))?(?: first)?\\b";
  const found = {
    tightest: take(reading, new RegExp(`\\b(?:tightest|densest|finest|closest strings|most (?:tight|dense))${end}`)),
    most_open: take(reading, new RegExp(`\\b(?:loosest|widest|most open)${end}`)),
    closest: take(reading, /\b(?:closest|nearest)(?: (?:ones?|frames?))? first\b/),
  };
  for (const key of Object.keys(orders)) found[key] = take(reading, new RegExp(`\\b${key}${end}`));
  const wanted = Object.keys(found).filter((key) => found[key]);
  if (wanted.length > 1) reading.problem = "frames have one order at a time";
  if (wanted.length) reading.fields.sort = wanted[0];
}

/** How many are wanted: the page lists all, and says so. */
function takeFirst(reading) {
  const count = take(reading, /(?<=[\s,])(?:top|first|give me) (\d{1,2})(?=[\s,.?!]|$)(?! ?(?:mains|crosses|sqin))/) ?? take(reading, /(?<=[\s,])(\d{1,2})(?= (?:tightest|densest|loosest|most open|closest|lightest|heaviest|lowest|highest|smallest|biggest))/);
  if (count) reading.note = `The page lists all of them; the first ${count[1]} are what you asked for.`;
}

function takeRest(reading) {
  if (take(reading, /\b(?:only measured|measured only|measured)(?: (?:ones|frames|only))?\b/)) reading.fields.measuredOnly = true;
  const sure = take(reading, /\b(?:at )?(75|80|90|95|99) ?(?:%|percent|per cent) (?:confidence|confident|sure|certain)\b|\bconfidence (75|80|90|95|99) ?%?/);
  if (sure) reading.fields.confidence = sure[1] ?? sure[2];
}
