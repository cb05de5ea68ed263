// The question in the words of the question language, in the order the program repeats them; `words` are that language's own.

/** The whole question in clauses joined by commas. */
export function describe(question, words) {
  const clauses = question.ranges.map((one) => rangeWords(one, words));
  if (question.patterns.length)
    clauses.push(question.patterns.map(([mains, crosses]) => `${mains}x${crosses}`).join(" or "));
  if (question.relation) clauses.push(relationWords(question.relation, words));
  if (question.measuredOnly) clauses.push("measured only");
  if (question.order) clauses.push(orderWords(question.order, words));
  if (question.confidence !== question.usualConfidence) clauses.push(`${question.confidence}% confidence`);
  return clauses.join(", ") || "all frames";
}

/** A range in words: `head 95 to 98 sq in`, `16 mains`, `mass at most 320 g`. */
export function rangeWords({ trait, unit, low, high }, words) {
  if (low && high && low.value === high.value && low.text !== high.text) {
    return [
      { trait, unit, low, high: null },
      { trait, unit, low: null, high },
    ]
      .map((one) => rangeWords(one, words))
      .join(", ");
  }
  const figures = boundsWords(low, high, unit ? ` ${words.units[unit]}` : "");
  const title = words.traits[trait];
  return trait === "mains" || trait === "crosses" ? `${figures} ${title}` : `${title} ${figures}`;
}

function boundsWords(low, high, unit) {
  if (low && high) return low.value === high.value ? `${low.text}${unit}` : `${low.text} to ${high.text}${unit}`;
  return low ? `at least ${low.text}${unit}` : `at most ${high.text}${unit}`;
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

function referenceWords(reference) {
  return reference === "and" ? `"${reference}"` : reference;
}

function orderWords({ by, zone, descending }, words) {
  if (by === "closest") return "closest first";
  const superlative = descending ? words.most_open : words.tightest;
  if (!zone) return `${superlative} first`;
  const { place, adjective } = words.zones[zone];
  return `${superlative} ${adjective || place} first`;
}
