// What the answer is, in sentences: for the eye, and spoken by a screen reader when it changes.

import { listed, plural } from "./figures.js";

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
  return catalogue.count - (state.reference < 0 ? 0 : 1) - count;
}

function tellAll(count, catalogue) {
  if (!count) return "No frame passes.";
  const all =
    count === catalogue.count
      ? `All ${plural(count, "frame")} stand`
      : `${plural(count, "frame")} ${count === 1 ? "stands" : "stand"}`;
  return `${all} on the line. Name the frame you know, and they part into tighter, too close to call and more open.`;
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

/** What leaves out the most: a clause, or the relation; nothing where the mesh of most is not known, which is told. */
function mostBy(judged, left) {
  const clause = [...judged.clauses].sort((a, b) => b.count - a.count)[0];
  const unknown = judged.blank ? 0 : judged.unknown.length;
  const related = left - judged.leftOut - unknown;
  if (clause && clause.count >= Math.max(related, unknown))
    return `: most by “${clause.words}” (${clause.count.toLocaleString("en-GB")}); loosen it`;
  return related >= unknown ? ": most by the relation" : "";
}
