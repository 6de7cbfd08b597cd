// The page: looks at the kiln once a second, and says so loudly when it can't.

import { listenToButtons, readAnswers, writeQuestions } from "./asks.js";
import { drawCurve, keepInShape } from "./curve.js";
import { at, make, show, write } from "./dom.js";
import { writeSheet } from "./sheet.js";
import { clock, unitsOf } from "./units.js";

const LOOK_EVERY_MS = 1000;
const HISTORY_EVERY_MS = 10000;
const LOST_AFTER_S = 3;
const MOST_EVENTS_SHOWN = 30;

let heardMs = performance.now(); // when the kiln was last known to speak; the page's start counts as the first chance
let status = null;
let whySilent = ""; // what the server knows of why no daemon speaks
let lastEvent = { firing: null, id: 0 };

async function get(address) {
  const answer = await fetch(address, { signal: AbortSignal.timeout(4000) });
  const said = await answer.json();
  if (!answer.ok) throw Object.assign(new Error(said.detail), { known: said.type === "urn:stokehand:kiln-not-heard" });
  return said;
}

async function look() {
  try {
    heard(await get("/status"));
    whySilent = status.why_silent;
  } catch (error) {
    whySilent = error.known ? error.message : "";
    readAnswers([]);
  }
  const silentS = (performance.now() - heardMs) / 1000;
  writeLost(silentS, silentS >= LOST_AFTER_S || status?.connected === false);
}

function heard(said) {
  heardMs = performance.now() - said.age_s * 1000;
  status = said;
  try {
    writeSheet(said, unitsOf(said.plan));
    writeQuestions(said.wanted);
    readAnswers(said.answered);
  } catch (error) {
    console.error(error);
    write("state", "This page failed: go and look"); // half a sheet must not pass for a whole one
  }
}

function writeLost(silentS, lost) {
  document.body.classList.toggle("lost", lost);
  show("lost", lost);
  if (!lost) return;
  const since = status ? ` Everything below is as it was at ${clock(status.utc_s)}.` : "";
  write("lost", `The page has not heard from the kiln for ${Math.floor(silentS)} s: go and look. ${whySilent}${since}`);
}

async function history() {
  if (!status) return;
  try {
    drawCurve(await get("/curve?points=600"), status, unitsOf(status.plan));
    await readEvents();
  } catch (error) {
    write("curve-note", `The curve can’t be drawn anew: ${error.message}`);
  }
}

async function readEvents() {
  if (lastEvent.firing !== status.firing) {
    lastEvent = { firing: status.firing, id: 0 };
    at("events").replaceChildren();
  }
  const { events } = await get(`/events?after=${lastEvent.id}`);
  for (const event of events) {
    lastEvent.id = event.id;
    const words = [event.happened, event.did, event.do_next].filter(Boolean).join(" ");
    at("events").prepend(make("li", "", make("time", "", clock(event.utc_s)), make("span", "", words || event.kind)));
  }
  while (at("events").children.length > MOST_EVENTS_SHOWN) at("events").lastElementChild.remove();
  show("events-note", !at("events").children.length);
}

async function every(ms, act) {
  await act();
  setTimeout(() => every(ms, act), ms); // after the answer, so that a slow network is not asked twice at once
}

listenToButtons();
keepInShape();
await every(LOOK_EVERY_MS, look);
every(HISTORY_EVERY_MS, history);
document.addEventListener("visibilitychange", () => { if (!document.hidden) look(); });
