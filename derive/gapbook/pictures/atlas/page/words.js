// Words: the question in those of the question language, in the order in which the program repeats it, and the answer in
// sentences, for the eye and for a screen reader. `words` are the language's own.

import { everyPlace } from "./catalogue.js";
import { listed, plural } from "./figures.js";

/** The whole question in clauses joined by commas. */
export function describe(question, words) {
  const clauses = question.ranges.map((one) => rangeWords(one, words));
  if (question.patterns.length)
    clauses.push(question.patterns.map(([mains, crosses]) => `${mains}x${crosses}`).join(" or "));
  if (question.relation) clauses.push(relationWords(question.relation, words));
  clauses.push(...question.also);
  if (question.measuredOnly) clauses.push("measured only");
  if (question.order) clauses.push(orderWords(question.order, words));
  if (question.confidence !== question.usualConfidence) clauses.push(`${question.confidence}% confidence`);
  return clauses.join(", ") || "all frames";
}

/** A range in words: `head 95 to 98 sq in`, `16 mains`, `mass at most 320 g`. */
export function rangeWords({ trait, unit, low, high, zone, lean }, words) {
  const apart = low && high && (low.strict || high.strict || (low.value === high.value && low.text !== high.text));
  if (apart) {
    return [
      { trait, unit, low, high: null, zone, lean },
      { trait, unit, low: null, high, zone, lean },
    ]
      .map((one) => rangeWords(one, words))
      .join(", ");
  }
  const figures = boundsWords(low, high, unit ? ` ${words.units[unit]}` : "");
  const title = titleOf(trait, zone, words);
  if (trait === "balance") return `${title} ${figures.replace(/^1 points/, "1 point")} head ${lean < 0 ? "light" : "heavy"}`;
  return trait === "mains" || trait === "crosses" ? `${figures} ${title}` : `${title} ${figures}`;
}

/** A trait's title in a zone: `centre mesh`, `mesh on the left`. */
function titleOf(trait, zone, words) {
  if (!zone) return words.traits[trait];
  const { place, adjective } = words.zones[zone];
  return adjective ? `${adjective} ${words.traits[trait]}` : `${words.traits[trait]} ${place}`;
}

function boundsWords(low, high, unit) {
  if (low && high) return low.value === high.value ? `${low.text}${unit}` : `${low.text} to ${high.text}${unit}`;
  return low ? `${low.strict ? "over" : "at least"} ${low.text}${unit}` : `${high.strict ? "under" : "at most"} ${high.text}${unit}`;
}

/** A relation in words: `tighter centre than fern-98`, `within 2% of fern-98 in the sides`. */
export function relationWords({ kind, zone, reference, within }, words) {
  const { place, adjective } = words.zones[zone];
  if (kind === "like") {
    const how = within === words.like_percent ? "like" : `within ${within}% of`;
    return `${how} ${referenceWords(reference)} ${place}`;
  }
  return `${kind === "tighter" ? "tighter" : "more open"} ${adjective || place} than ${referenceWords(reference)}`;
}

/** A reference as it is written in a question. */
export function referenceWords(reference) {
  return reference === "and" ? `"${reference}"` : reference;
}

function orderWords({ by, zone, descending }, words) {
  if (words.orders[by]) return words.orders[by].words;
  if (by === "closest") return "closest first";
  const superlative = descending ? words.most_open : words.tightest;
  if (!zone) return `${superlative} first`;
  const { place, adjective } = words.zones[zone];
  return `${superlative} ${adjective || place} first`;
}

/** The answer in one or two sentences. */
export function tell(judged, groups, state, catalogue) {
  const count = groups.filter((group) => group.key !== "unknown").reduce((sum, group) => sum + group.rows.length, 0);
  const parts = [state.reference < 0 ? tellAll(count, catalogue) : tellAgainst(judged, groups, state, catalogue)];
  const left = leftOut(judged, count, state, catalogue);
  if (left) parts.push(`${plural(left, "frame")} left out${count ? "" : mostBy(judged, left)}.`);
  const unknown = judged.blank ? 0 : judged.unknown.length;
  if (unknown) {
    const whose = unknown === left ? "these" : `${unknown.toLocaleString("en-GB")} of them`;
    parts.push(`Of ${whose} the mesh ${catalogue.words.zones[state.zone].place} is not known.`);
  }
  return parts.join(" ");
}

/** How many frames are not on the line, whatever left them out; the reference is none of them. */
function leftOut(judged, count, state, catalogue) {
  if (judged.blank) return judged.leftOut;
  return everyPlace(catalogue) - (state.reference < 0 ? 0 : 1) - count;
}

function tellAll(count, catalogue) {
  if (!count) return "No frame passes.";
  const all =
    count === everyPlace(catalogue)
      ? `All ${plural(count, "frame")} stand`
      : `${plural(count, "frame")} ${count === 1 ? "stands" : "stand"}`;
  return `${all} on the line. Name the frame you know, and the others are sorted around it: tighter, too close to call and more open.`;
}

function tellAgainst(judged, groups, state, catalogue) {
  if (judged.blank) return tellBlank(state, catalogue);
  if (groups.every((group) => !group.rows.length)) return `Nothing to set against ${catalogue.ids[state.reference]}.`;
  const words = groups
    .filter((group) => group.key !== "unknown")
    .map((group) => `${group.rows.length.toLocaleString("en-GB")} ${lower(group.title)}`);
  const sure = state.relation === "like" ? "" : `, sure at ${state.confidence} %`;
  return `Against ${catalogue.ids[state.reference]} ${catalogue.words.zones[state.zone].place}${sure}: ${listed(words)}.`;
}

function tellBlank(state, catalogue) {
  const place = catalogue.words.zones[state.zone].place;
  return `The mesh of ${catalogue.ids[state.reference]} ${place} is not known, so nothing can be set against it there.`;
}

function lower(title) {
  return title[0].toLowerCase() + title.slice(1);
}

/** What leaves out the most: a clause, or the relation; empty if the mesh of most is not known, which is told elsewhere. */
function mostBy(judged, left) {
  const clause = [...judged.clauses].sort((a, b) => b.count - a.count)[0];
  const unknown = judged.blank ? 0 : judged.unknown.length;
  const related = left - judged.leftOut - unknown;
  if (clause && clause.count >= Math.max(related, unknown))
    return `: most by “${clause.words}” (${clause.count.toLocaleString("en-GB")}); loosen it`;
  return related >= unknown ? ": most by the relation" : "";
}
