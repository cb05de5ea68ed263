// A question in one's own words, as far as the page can answer it. Parts of the text that are understood are taken out of it one
// after the other; what is left must be words that say nothing, or else nothing is answered: a question is never half understood.

import { fullName, isOwn } from "./catalogue.js";

const ZONES = [
  ["left", /(?:on|in|at)? ?(?:the )?left(?:[- ]hand)?(?: side)?/],
  ["right", /(?:on|in|at)? ?(?:the )?right(?:[- ]hand)?(?: side)?/],
  ["centre", /(?:in|at|on)? ?(?:the )?(?:centre|center|middle|sweet (?:area|spot)|ctr)s?/],
  ["sides", /(?:in|at|on|up|towards)? ?(?:the )?(?:sides?|edges?)/],
  ["tip", /(?:in|at|on|up|near|towards)? ?(?:the )?(?:tip|top|upper hoop)(?: area)?/],
  ["throat", /(?:in|at|on|near|towards)? ?(?:the )?(?:throat|handle)(?: area)?/],
];
const HOLES = "(?:mesh(?:es)?|spacing|gaps?|holes?)";
const THING = "(?: (?:string ?bed|bed|string pattern|pattern|strings?|mesh|spacing|gaps?|holes?))?";
const TIGHTER = new RegExp(
  `(?:tighter|denser|closer|finer|narrower|smaller ${HOLES}|more (?:tight|dense|closed)|less (?:open|loose|wide))${THING}`,
);
const OPENER = new RegExp(
  `(?:more open(?:ed)?|opener|looser|wider|bigger ${HOLES}|larger ${HOLES}|more loose|less (?:tight|dense))${THING}`,
);
const LIKE = /(?:within (\d+(?:\.\d+)?) ?(?:%|percent|per cent) of|similar to|(?:the )?same as|(?:some|any)?thing like|(?:racquets?|rackets?|frames?) like|like)/;
const FIGURE = "\\d{1,4}(?:\\.\\d+)?";
const RANGE = `(?:(?:between|from|in|of) )?(${FIGURE}) ?(?:-|\\.\\.|to|and|until) ?(${FIGURE})`;
const UNDER = "(?:under|below|less than|lighter than|lower than|smaller than|<|sub)";
const OVER = "(?:over|above|more than|heavier than|higher than|greater than|bigger than|>)";
const MOST = "(?:at most|up to|no more than|not more than|no heavier than|not heavier than|no higher than|maximum|max|<=|≤)";
const LEAST = "(?:at least|no less than|not less than|minimum|min|>=|≥)";
const LESS = "(?: or (?:less|under|lighter|smaller|below))";
const MORE = "(?:\\+| plus| or (?:more|over|heavier|bigger|above)| and up)";
/** What a range is of: its field, the words before it, its units, and whether the words or a unit must be there. */
const MEASURES = [
  { key: "mass", named: "(?:mass|weight|weighs?|weighing|wt|m)", unit: "(?:g|gr|grams?|grammes?)\\b" },
  { key: "swing", named: "(?:swing ?weight|sw)", unit: "(?:kg[·. ]?cm[²2])?" },
  { key: "head", named: "(?:head(?:s| size| area)?|hd)", unit: "(?:sqin|\"|cm2)" },
];
const FILLER = new RegExp(
  `^(?:a|an|the|i|me|my|we|our|you|your|he|she|his|her|it|its|is|are|be|am|was|do|does|have|has|got|play|plays|playing|use|uses|using|want|wants|would|could|can|need|needs|find|show|give|list|see|tell|looking|look|search|searching|for|with|of|in|on|at|to|and|but|also|too|that|which|what|whats|that's|who|than|then|as|please|thanks|thank|hi|hello|hey|all|any|some|anything|something|one|ones|every|everything|there|this|these|those|frame|frames|racquet|racquets|racket|rackets|bed|beds|string|strings|pattern|patterns|now|at|moment|currently|a|bit|little|only|just|by|i've|i'd|i'm|im|what's|us|like\\b(?= to)|reference|suggest|recommend|hoping|hope|among|alternatives?|another|new|old|must|however|stays?|weighs?|please|against|vs|from|whose|string|first|head|heads|size|sized|w|w\\/|mains?|crosses)$`,
);

const COUNTED = {
  one: "1", two: "2", three: "3", four: "4", five: "5", six: "6", seven: "7", eight: "8", nine: "9", ten: "10", twelve: "12",
  fourteen: "14", fifteen: "15", sixteen: "16", seventeen: "17", eighteen: "18", nineteen: "19", twenty: "20",
};

/** The names by which frames can be called, each with its place, or null if it is that of several. */
export function namesOf(catalogue) {
  const names = new Map();
  const add = (name, frame) => {
    const key = spelt(name);
    if (key && /[a-z]/.test(key)) names.set(key, names.has(key) && names.get(key) !== frame ? null : frame);
  };
  const { maker, model, edition } = catalogue.frames;
  for (let frame = 0; frame < catalogue.count; frame += 1) {
    if (edition[frame] !== "club" || /club/i.test(model[frame] ?? "")) add(model[frame] ?? "", frame);
    else add(`${model[frame]} club`, frame);
    add(fullName(catalogue, frame), frame);
    if (edition[frame] !== "club") add(`${maker[frame] ?? ""} ${model[frame] ?? ""}`, frame);
  }
  catalogue.ids.forEach((id, frame) => !isOwn(catalogue, frame) && names.set(spelt(id), frame));
  names.set("your bed", catalogue.own.place).set("my bed", catalogue.own.place);
  return names;
}

/** A name as names are compared: small letters and numbers, with one space between words. */
export function spelt(name) {
  return name
    .toLowerCase()
    .replace(/(\d+)[x×](\d+)/g, "$1x$2")
    .replace(/([a-z])(\d)/g, (all, letter, digit) => (letter === "x" ? all : `${letter} ${digit}`))
    .replace(/[^a-z0-9]+/g, " ")
    .trim();
}

/** The place of the frame that is called so, or null. */
export function frameCalled(typed, names) {
  return names.get(spelt(typed)) ?? null;
}

/**
 * What a text asks: {fields, look, note}, or {problem} with the words that were not understood. `fields` are those of the
 * state that differ from a question that asks nothing.
 */
export function asked(text, catalogue, names) {
  const reading = { text: ` ${plainly(text)} `, fields: {}, frames: [], look: -1, note: "", patterns: new Set(), catalogue };
  reading.problem = "";
  takeNames(reading, names);
  if (isAbout(reading)) return reading.problem ? { problem: reading.problem } : { fields: reading.fields, look: reading.look, note: "" };
  for (const take of [takeRest, takeFirst, takePatterns, takeCounts, takeRelation, takeMeasures, takeBareHeads, takeOrder]) take(reading);
  if (reading.problem) return { problem: reading.problem };
  const left = reading.text.split(/[\s,;:.!?&()]+/).filter((word) => word && !FILLER.test(word));
  if (left.length) return { problem: `“${left.slice(0, 4).join(" ").replaceAll("§", "")}” is not understood here` };
  if (!Object.keys(reading.fields).length && !reading.patterns.size) return { problem: "nothing in it is a question" };
  if (reading.patterns.size) reading.fields.patterns = reading.patterns;
  return { fields: reading.fields, look: reading.look, note: reading.note };
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
    .replace(/\b(?:one|two|three|four|five|six|seven|eight|nine|ten|twelve|fourteen|fifteen|sixteen|seventeen|eighteen|nineteen|twenty)\b(?= (?:mains?|crosses|cross|tightest|most|loosest|densest|closest))|(?<=\b(?:top|first|give me) )(?:two|three|four|five|six|seven|eight|nine|ten)\b/g, (word) => COUNTED[word])
    .replace(/cm(?:²|\^2)/g, "cm2")
    .replace(/(\d)(sqin|cm2|gr?\b|grams?\b|%)/g, "$1 $2")
    .replace(/\b(?:i'd|i would|we'd|we would|should) (?:also )?like\b/g, "i want")
    .replace(/["”“]/g, '"')
    .replace(/\s+/g, " ")
    .trim();
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
      if (!/[a-z]/.test(key) || /^[^a-z0-9"]/.test(phrase) || !names.has(key)) continue;
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

/** At most one relation with one reference and one zone. */
function takeRelation(reading) {
  const found = [["tighter", TIGHTER], ["more_open", OPENER], ["like", LIKE]]
    .map(([kind, words]) => [kind, take(reading, new RegExp(`\\b${words.source}(?![a-z])`))])
    .filter(([, match]) => match);
  const zones = ZONES.filter(([, words]) => take(reading, new RegExp(`(?<![a-z])${words.source}(?![a-z])`)));
  if (zones.length > 1 || found.length > 1) reading.problem = "the page asks for one relation in one zone at a time";
  if (zones.length) reading.fields.zone = zones[0][0];
  if (!found.length && !reading.frames.length) return;
  if (!found.length) reading.problem = "it names a frame, but not whether others are to be tighter, more open or like it";
  else if (reading.frames.length !== 1)
    reading.problem = reading.frames.length ? "the page has one reference at a time" : "name the frame that others are to be set against";
  else if (isOwn(reading.catalogue, reading.frames[0]) && !reading.catalogue.hasOwn) reading.problem = "your bed is not typed yet";
  else {
    Object.assign(reading.fields, { relation: found[0][0], reference: reading.frames[0] });
    if (found[0][1][1]) reading.fields.within = found[0][1][1];
    take(reading, /§\d+§/);
  }
}

function takeMeasures(reading) {
  for (const { key, named, unit } of MEASURES) {
    const gap = `(?: (?:is|of|must be|stays?|must stay|=))?`;
    const whole = (bounds) => [`(?<![a-z])${named}${gap} ?${bounds} ?(${unit})?`, ...(key === "swing" ? [`${bounds} ?(?:${named})`] : [`(?<![\\d.])${bounds} ?(${unit})`])];
    const forms = [
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
  if (/(?:under|below|over|above|than|<|>|=|about|around|most|least|max|min|~|no|not|or|swing ?weight|sw|mass|openness)\s*$/.test(before)) {
    reading.problem = `“${found[0].trim()}” of what? Add a unit, such as sq in or g`;
    return;
  }
  reading.fields.head_low = found[1];
  reading.fields.head_high = found[3] === "+" ? "" : (found[2] ?? found[1]);
}

function takeOrder(reading) {
  const tight = take(reading, /\b(?:tightest|densest|finest|closest strings|most (?:tight|dense))(?: (?:ones?|frames?))?(?: first)?\b/);
  const open = take(reading, /\b(?:loosest|widest|most open)(?: (?:ones?|frames?))?(?: first)?\b/);
  const near = take(reading, /\b(?:closest|nearest)(?: (?:ones?|frames?))? first\b/);
  const wanted = [tight && "tightest", open && "most_open", near && "closest"].filter(Boolean);
  if (wanted.length > 1) reading.problem = "frames have one order at a time";
  if (wanted.length) reading.fields.sort = wanted[0];
}

/** How many are wanted: the page lists all, and says so. */
function takeFirst(reading) {
  const count = take(reading, /(?<=[\s,])(?:top|first|give me) (\d{1,2})(?=[\s,.?!]|$)(?! ?(?:mains|crosses|sqin))/) ?? take(reading, /(?<=[\s,])(\d{1,2})(?= (?:tightest|densest|loosest|most open|closest))/);
  if (count) reading.note = `The page lists all of them; the first ${count[1]} are what you asked for.`;
}

function takeRest(reading) {
  if (take(reading, /\b(?:only measured|measured only|measured)(?: (?:ones|frames|only))?\b/)) reading.fields.measuredOnly = true;
  const sure = take(reading, /\b(?:at )?(75|80|90|95|99) ?(?:%|percent|per cent) (?:confidence|confident|sure|certain)\b|\bconfidence (75|80|90|95|99) ?%?/);
  if (sure) reading.fields.confidence = sure[1] ?? sure[2];
}
