// The picture of the course: the program draws it, the page only shows it.
import { byId, put, show } from "./dom.js";
import { setting } from "./settings.js";

const every = 2000; // ms

export function beginCourse() {
  look();
}

/// As wide as its place, so that its letters are as large as the page's.
const width = () => Math.min(4000, Math.max(280, byId("live").clientWidth - 40));
const height = () => Math.min(420, Math.max(200, Math.round(width() * 0.36)));

async function look() {
  try {
    const answer = await fetch(`/api/course.svg?unit=${setting("unit")}&width=${width()}&height=${height()}`, { cache: "no-store", signal: AbortSignal.timeout(5000) });
    if (answer.ok && document.visibilityState === "visible") draw(await answer.text());
    if (answer.status === 404) show(byId("course"), false);
  } catch {
    byId("course").classList.add("old");
  }
  setTimeout(look, every);
}

function draw(text) {
  const parsed = new DOMParser().parseFromString(text, "image/svg+xml");
  const svg = parsed.documentElement;
  if (svg.localName !== "svg" || parsed.querySelector("parsererror")) return;
  for (const one of parsed.querySelectorAll("script, foreignObject, style")) one.remove();
  for (const one of parsed.querySelectorAll("*"))
    for (const { name } of [...one.attributes]) if (name === "style" || name.startsWith("on")) one.removeAttribute(name);
  put(byId("course-picture"), document.importNode(svg, true));
  byId("course").classList.remove("old");
  show(byId("course"), true);
}

