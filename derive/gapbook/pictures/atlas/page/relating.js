// The comparisons of a question in one's own words: which word compares what, in which zone, with which frame.

const HOLES = "(?:mesh(?:es)?|spacing|gaps?|holes?)";
const BED = "(?: (?:string ?bed|bed|string pattern|pattern|strings?|mesh|spacing|gaps?|holes?))?";
const SW = "(?:swing ?weights?|sw)";
const less = (noun) => `(?:less|lower|smaller|fewer|reduced) ${noun}`;
const more = (noun) => `(?:more|higher|bigger|larger|greater) ${noun}`;
const HEAD_SIZE = "head(?: ?(?:size|area))?";
/** Words that compare: the trait, which way, and the words; longer ones come first. */
const COMPARING = [
  ["openness", -1, `(?:tighter|denser|finer|narrower|(?:smaller|narrower) ${HOLES}|closer together|closer|more (?:tight|dense|closed)|less (?:open|loose|wide)|(?:lower|smaller|less) openness|openness (?:lower|less))${BED}`],
  ["openness", 1, `(?:more open(?:ed)?|opener|looser|wider|(?:bigger|larger) ${HOLES}|more loose|less (?:tight|dense)|higher openness|openness higher)${BED}`],
  ["stiffness", -1, `softer(?:${BED})`],
  ["stiffness", 1, `(?:stiffer|firmer)(?:${BED})`],
  ["drilling", -1, "drilled (?:closer|tighter|more closely)|(?:more closely|closer) drilled"],
  ["drilling", 1, "drilled (?:wider|more widely)|(?:more widely|wider) drilled"],
  ["evenness", -1, `less even(?:${BED})`],
  ["evenness", 1, `(?:more (?:even|uniform)|evener)(?:${BED})`],
  ["balance", -1, "more head[- ]?light"],
  ["balance", 1, "more head[- ]?heavy"],
  ["head_area", -1, `${less(HEAD_SIZE)}|smaller(?: ${HEAD_SIZE})?`],
  ["head_area", 1, `${more(HEAD_SIZE)}|(?:bigger|larger)(?: ${HEAD_SIZE})?`],
  ["swingweight", -1, `${less(SW)}|${SW} (?:lower|less)`],
  ["swingweight", 1, `${more(SW)}|${SW} (?:higher|more)`],
  ["crosses", -1, less("(?:crosses|cross strings)")],
  ["crosses", 1, more("(?:crosses|cross(?: strings)?)")],
  ["mains", -1, less("(?:mains|main strings)")],
  ["mains", 1, more("(?:mains|main strings)")],
  ["mass", -1, `lighter(?: mass| weight)?|${less("(?:mass|weight)")}|less heavy|more light`],
  ["mass", 1, `heavier(?: mass| weight)?|${more("(?:mass|weight)")}|more heavy`],
  ["length", -1, "shorter"],
  ["length", 1, "longer"],
];
const ZONE_WORDS = [
  ["left", "(?:on|in|at)? ?(?:the )?left(?:[- ]hand)?(?: side)?"],
  ["right", "(?:on|in|at)? ?(?:the )?right(?:[- ]hand)?(?: side)?"],
  ["centre", "(?:in|at|on)? ?(?:the )?(?:centre|center|middle|sweet (?:area|spot)|ctr)s?"],
  ["sides", "(?:in|at|on|up|towards)? ?(?:the )?(?:sides?|edges?)"],
  ["tip", "(?:in|at|on|up|near|towards)? ?(?:the )?(?:tip|top|upper hoop)(?: area)?"],
  ["throat", "(?:in|at|on|near|towards|by)? ?(?:the )?(?:throat|handle)(?: area)?"],
  ["every", "everywhere|(?:in )?(?:all|every) zones?"],
];
const HEADS_OF = ["comparing", "like", "equal"];
const EVERY = ["centre", "left", "right", "tip", "throat"];
const AS = "(?:tight|dense)";
/** The parts of a sentence that compares: a name, a pattern, and what is kept of a match. */
const WORDS_OF = [
  ["like", "(?:with )?the bed of|within (\\d+(?:\\.\\d+)?) ?(?:%|percent|per cent) of|about as (?:tight|dense|open) as|similar to|(?:the )?same as|(?:some|any)?thing (?:just )?like|(?:just )?like"],
  ["equal", `(?:at least |just )?as (${AS}|open) as`],
  ["comparing", COMPARING.map(([, , words]) => `(${words})`).join("|")],
  ["not", "¬"],
  ["than", "than|then|as|compared (?:to|with)"],
  ["both", "both"],
  ["or", "or|either"],
  ["zone", ZONE_WORDS.map(([, words]) => `(${words})`).join("|")],
  ["frame", "§(\\d+)§"],
  ["and", "and|but|yet|with|also|plus|only|[,;.&+∧]"],
].map(([name, words]) => ({ name, words: new RegExp(`^(?:${words})(?![a-z0-9§])`) }));

/** The comparisons in a text in which frames are written §7§: {relations, rest} or {problem}; the rest is what is left of it. */
export function comparisonsOf(text) {
  const { found, rest } = cut(text);
  const segments = segmentsOf(found);
  if (!found.some(({ name }) => HEADS_OF.includes(name))) return { relations: [], rest: text };
  if (found.some(({ name }) => name === "or")) return { problem: "the page cannot ask for one relation or another" };
  const made = [];
  let mentioned = [];
  for (const segment of segments) {
    const problem = readSegment(segment, made, mentioned);
    if (problem) return { problem };
    const named = segment.filter(({ name }) => name === "frame").map(({ frame }) => frame);
    if (named.length) mentioned = named;
  }
  return { ...lent(made, found), rest };
}

/** The parts in their order, and the text without them. */
function cut(text) {
  const found = [];
  let rest = "";
  for (let at = 0; at < text.length; ) {
    const starts = at === 0 || !/[a-z0-9]/.test(text[at - 1]) || !/[a-z0-9]/.test(text[at]);
    const here = starts && WORDS_OF.map(({ name, words }) => ({ name, match: words.exec(text.slice(at)) })).find(({ match }) => match?.[0].trim());
    if (!here) {
      rest += text[at];
      at += 1;
      continue;
    }
    found.push(partOf(here.name, here.match));
    rest += " , ";
    at += here.match[0].length;
  }
  return { found, rest };
}

function partOf(name, match) {
  const which = match.slice(1).findIndex((one) => one !== undefined);
  if (name === "comparing") return { name, trait: COMPARING[which][0], sign: COMPARING[which][1] };
  if (name === "zone") return { name, zone: ZONE_WORDS[which][0] };
  if (name === "frame") return { name, frame: Number(match[1]) };
  if (name === "like") return { name, within: match[1] };
  if (name === "equal") return { name, kind: match[1] === "open" ? "not_tighter" : "not_more_open" };
  return { name };
}

/** Parts between `and`, `but` and commas. */
function segmentsOf(found) {
  const segments = [[]];
  for (const part of found) {
    const said = segments.at(-1);
    const head = said.findIndex(({ name }) => HEADS_OF.includes(name));
    const closed = head >= 0 && said.slice(head).some(({ name }) => name === "frame");
    if (part.name === "and" || (closed && HEADS_OF.includes(part.name))) segments.push([]);
    if (part.name !== "and") segments.at(-1).push(part);
  }
  return segments.filter((one) => one.length);
}

/** Add what one segment says; the problem if it cannot be made out. */
function readSegment(segment, made, mentioned) {
  const of = (name) => segment.filter((part) => part.name === name);
  const [comparing, likes, equals, zones, frames] = ["comparing", "like", "equal", "zone", "frame"].map(of);
  const heads = [...comparing, ...likes, ...equals];
  const all = zones.flatMap(({ zone }) => (zone === "every" ? EVERY : [zone]));
  const last = made.at(-1);
  if (!heads.length) {
    if (of("not").length) return "it is not clear what is not wanted";
    if (zones.length && last?.trait === "openness") last.zones.push(...all);
    else if (zones.length) return "a zone is named, but not how its bed is to be";
    const lists = last?.frames.length && frames.length && !of("than").length && last.direct;
    if (of("than").length && !frames.length) return "name the frame that others are to be set against";
    if (frames.length && (lists || of("than").length)) {
      const open = made.filter((one) => !one.frames.length || one === last);
      for (const one of open) one.frames.push(...frames.map(({ frame }) => frame));
      for (const one of open) one.direct = true;
    }
    return "";
  }
  if (heads.length > 1) return "two comparisons run together: write a comma or “and” between them";
  const [head] = heads;
  const one = { trait: head.trait ?? "openness", zones: all, frames: frames.map(({ frame }) => frame), direct: frames.length > 0 };
  const denied = of("not").length > 0;
  if (head.name === "equal" && denied) return "it is not clear what is not wanted";
  if (head.name === "like") Object.assign(one, { kind: "like", within: head.within });
  else if (head.name === "equal") one.kind = head.kind;
  else one.kind = kindSaid(head, denied);
  if (head.name === "like" && denied) return "the page cannot ask for what is not like a frame";
  if (zones.length && one.trait !== "openness" && !(["stiffness", "drilling"].includes(one.trait) && all.every((zone) => zone === "centre"))) return "that is not known zone by zone";
  const before = segment.indexOf(head);
  const first = segment.findIndex(({ name }) => name === "frame");
  const than = segment.findIndex(({ name }) => name === "than");
  if (first >= 0 && first < before && ((than >= 0 && than < before) || frames.length > 1 || head.name !== "comparing")) return "it is not clear which frame is compared with which";
  if (of("than").length && !frames.length && !of("both").length && mentioned.length !== 1) one.waits = true;
  if (frames.length > 1) return "write “and” between two frames";
  made.push(one);
  return "";
}

function kindSaid({ trait, sign }, denied) {
  const words = trait === "openness" ? ["tighter", "more_open"] : ["less", "more"];
  const kind = words[sign < 0 ? 0 : 1];
  return denied ? `not_${kind}` : kind;
}

/** Comparisons without a frame borrow it: of the one before them that has one, or of the next. */
function lent(made, found) {
  const mentioned = [...new Set(found.filter(({ name }) => name === "frame").map(({ frame }) => frame))];
  for (const [place, one] of made.entries()) {
    if (one.frames.length) continue;
    const lenders = made.filter((other) => other.direct);
    const before = made.slice(0, place).filter((other) => other.frames.length);
    const after = made.slice(place + 1).filter((other) => other.direct);
    if (before.length && after.length && String(before.at(-1).frames) !== String(after[0].frames))
      return { problem: "it is not clear which frame each comparison is with" };
    if (!lenders.length && mentioned.length !== 1) return { problem: mentioned.length ? "it is not clear which frame is meant" : "name the frame that others are to be set against" };
    one.frames = [...((before.at(-1) ?? after[0])?.frames ?? mentioned)];
  }
  const used = new Set(made.flatMap(({ frames }) => frames));
  if (mentioned.some((frame) => !used.has(frame))) return { problem: "it names a frame, but not what is asked of it" };
  const relations = made.flatMap(({ trait, kind, zones, frames, within }) =>
    frames.flatMap((reference) =>
      (trait === "openness" ? (zones.length ? [...new Set(zones)] : ["centre"]) : [null]).map((zone) => ({
        type: trait === "openness" ? "relation" : "trait",
        trait, kind, zone, reference, within,
      })),
    ),
  );
  return { relations };
}
