// Asking: the page sends an ask and waits for a status that tells what the kiln made of it.

import { at, make, redraw, show, write } from "./dom.js";

const SECOND_TAP_AFTER_MS = 400; // a bouncing finger is one tap
const SECOND_TAP_WITHIN_MS = 6000;
const PATIENCE_MS = 6000;
const HAVE_PLACES = ["here", "stop", "burn_down"]; // buttons of their own
const REPLY_STAYS_MS = 15000;

let pending = null; // { nonce, words, sinceMs }
let replyMs = 0;

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
  const questions = wanted.filter((w) => !HAVE_PLACES.includes(w.ask));
  show("end", wanted.some((w) => w.ask === "burn_down"));
  show("questions", questions.length > 0);
  redraw("wanted", questions, () => questions.map(({ ask: name, words }) => {
    const button = make("button", "big question", words);
    button.type = "button";
    button.dataset.ask = name;
    button.addEventListener("click", () => ask(name, `“${words}”`));
    return make("li", "", button);
  }));
}

function disarm(button) {
  delete button.dataset.armedMs;
  button.classList.remove("armed");
  write(button.id, button.dataset.label);
}

// What can't be taken back takes two taps.
function twoTaps(id, name, words) {
  const button = at(id);
  button.dataset.label = button.textContent;
  button.addEventListener("click", () => {
    const now = Date.now();
    if (!button.dataset.armedMs) {
      button.dataset.armedMs = now;
      button.classList.add("armed");
      write(id, "Tap again to do it");
      setTimeout(() => { if (button.dataset.armedMs === String(now)) disarm(button); }, SECOND_TAP_WITHIN_MS);
    } else if (now - Number(button.dataset.armedMs) >= SECOND_TAP_AFTER_MS) {
      disarm(button);
      ask(name, words);
    }
  });
}

export function listenToButtons() {
  at("here").addEventListener("click", () => ask("here", "“I am here.”"));
  twoTaps("stop", "stop", "“Stop the feed.”");
  twoTaps("end", "burn_down", "“Burn down.”");
}
