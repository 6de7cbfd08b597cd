// Asking: the page sends an ask and waits for a status that tells what the kiln made of it.

import { at, make, redraw, show, write } from "./dom.js";

const SECOND_TAP_AFTER_MS = 400; // a bouncing finger is one tap
const SECOND_TAP_WITHIN_MS = 6000;
const PATIENCE_MS = 6000;
const REPLY_STAYS_MS = 15000;

let pending = null; // { nonce, words, sinceMs }
let replyMs = 0;
let stopMs = null;

function reply(words) {
  write("reply", words);
  replyMs = Date.now();
}

async function ask(name, words) {
  reply(`Asking: ${words}`);
  try {
    const answer = await fetch("/asks", {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ ask: name }),
      signal: AbortSignal.timeout(5000),
    });
    const said = await answer.json();
    if (!answer.ok) {
      reply(`Not passed on: ${said.detail} ${said.do_next}`);
      return;
    }
    pending = { nonce: said.nonce, words, sinceMs: Date.now() };
    reply(`Passed on: ${words} Waiting for the kiln’s answer.`);
  } catch {
    reply("The page’s server didn’t answer. Go to the kiln and use its own buttons.");
  }
}

export function readAnswers(answered) {
  const now = Date.now();
  if (pending) {
    const found = answered.find((a) => a.nonce === pending.nonce);
    if (found) {
      reply(`${found.accepted ? "The kiln accepts" : "The kiln refuses"}: ${pending.words} ${found.why}`.trim());
      pending = null;
    } else if (now - pending.sinceMs > PATIENCE_MS) {
      reply(`The kiln has not answered: ${pending.words} Go and look.`);
      pending = null;
    }
  } else if (replyMs && now - replyMs > REPLY_STAYS_MS) {
    write("reply", "");
    replyMs = 0;
  }
}

export function writeQuestions(wanted) {
  const questions = wanted.filter((w) => w.ask !== "here" && w.ask !== "stop"); // those two have places of their own
  show("questions", questions.length > 0);
  redraw("wanted", questions, () => questions.map(({ ask: name, words }) => {
    const button = make("button", "big question", words);
    button.type = "button";
    button.dataset.ask = name;
    button.addEventListener("click", () => ask(name, `“${words}”`));
    return make("li", "", button);
  }));
}

function resetStop() {
  stopMs = null;
  at("stop").classList.remove("armed");
  write("stop", "Stop the firing");
}

function tapStop() {
  const now = Date.now();
  if (stopMs === null) {
    stopMs = now;
    at("stop").classList.add("armed");
    write("stop", "Tap again to stop");
    setTimeout(() => { if (stopMs === now) resetStop(); }, SECOND_TAP_WITHIN_MS);
  } else if (now - stopMs >= SECOND_TAP_AFTER_MS) {
    resetStop();
    ask("stop", "“Stop the firing.”");
  }
}

export function listenToButtons() {
  at("here").addEventListener("click", () => ask("here", "“I am here.”"));
  at("stop").addEventListener("click", tapStop);
}
