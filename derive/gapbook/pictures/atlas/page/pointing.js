// The pointer on the line: what it points at is named, and looked at when it is pressed.

import { fullName } from "./catalogue.js";
import { openness } from "./compare.js";
import { MESH, withU } from "./figures.js";
import { nearest, pointAt } from "./line.js";
import { sureWords } from "./rows.js";
import { html } from "./shapes.js";

const BESIDE = 14;
const BELOW = 18;

/** Listen to the pointer over `host`; `now` gives the line as it was drawn last and the zone, `picked` takes a frame. */
export function listenToPointer(host, tip, catalogue, now, picked) {
  const under = (event) => {
    const box = host.getBoundingClientRect();
    const { line } = now();
    const times = line.scale.width / box.width;
    return nearest(line, (event.clientX - box.left) * times, (event.clientY - box.top) * times);
  };
  const pointedAt = (one, event) => {
    pointAt(host, now().line, one);
    host.classList.toggle("over", Boolean(one));
    tip.hidden = !one;
    if (!one) return;
    tip.replaceChildren(...sentences(catalogue, one, now().zone).map((text) => html("span", {}, text)));
    const box = tip.parentElement.getBoundingClientRect();
    const left = event.clientX - box.left + BESIDE;
    tip.style.left = `${Math.max(0, Math.min(box.width - tip.offsetWidth, left))}px`;
    tip.style.top = `${event.clientY - box.top + BELOW}px`;
  };
  host.addEventListener("pointermove", (event) => pointedAt(under(event), event));
  host.addEventListener("pointerleave", () => pointedAt(null));
  host.addEventListener("click", (event) => {
    const one = under(event);
    if (one) picked(one.frame);
  });
}

function sentences(catalogue, one, zone) {
  const mesh = openness(catalogue, one.frame, zone);
  const said = [
    fullName(catalogue, one.frame),
    `${withU(mesh.value, mesh.u, MESH)} mm${one.measured ? "" : ", an estimate"}`,
  ];
  return one.found ? [...said, `${one.said}: ${sureWords(one.found)}`] : said;
}
