// The fire in words: why it is fed so, what air its fuel has, and what heat the kiln takes. A row is a name, a value
// and small print; nothing here judges, and what the daemon doesn't know is said to be unknown.

import { kgPerH, percent, ratio, signed, signedPercent, span } from "./units.js";

const TERMS = [
  ["ff_frac", "feed-forward: for the setpoint"],
  ["p_frac", "P: the gap to the setpoint"],
  ["i_frac", "I: learnt on the way"],
  ["d_frac", "D: coming anyway"],
];
const LIMITS = {
  none: "",
  "feed floor": "held up: this is the least that keeps the fire alive",
  "feed ceiling": "held back: the auger turns as much as it may",
  "waits for the air": "held back: the air can burn no more",
  "no gauge tells the air": "held back: without a gauge nobody knows the air",
  "held: the auger does not turn": "left as it was: the auger does not turn",
  "waits for the embers": "held back: the embers take no more yet",
  "asks the fire: does the kiln get warmer?": "a little more for a minute: does the kiln get warmer by it?",
  "held: the chamber can't be read": "left as it was: the chamber can’t be read",
};
const OWN_FEED = "the stage's own feed";
const TOLD_S = 30; // less heat work than this is nothing to talk of
const PLENTY = 5; // an ember in a strong draught: no number to go by

export function fireRows(status, units) {
  return [
    ["Feed", percent(status.feed_frac), feedWords(status)],
    ...(status.lit ? airRows(status) : []),
    ...atmosphereRows(status),
    ...(status.estimated_chamber_c !== null ? [heatRow(status, units)] : []),
  ];
}

export function reductionWanted({ wanted_air_ratio: wanted }) {
  return wanted !== null && wanted < 1;
}

function feedWords(status) {
  const limit = status.limited_by;
  if (limit === OWN_FEED) return ["as the plan has it for this stage"];
  const acting = TERMS.some(([key]) => status[key] !== 0);
  const terms = acting ? TERMS.map(([key, words]) => `${signedPercent(status[key])} ${words}`) : [];
  return [...terms, LIMITS[limit]];
}

function airRows(status) {
  const { wanted_air_ratio: wanted, air_factor: factor, air_aside_frac: aside } = status;
  const beside = wanted === null ? "none wanted now" : `wanted\u00a0${ratio(wanted)}`;
  const small = [`${beside}; 1 is just enough`, source(status)];
  if (factor.toFixed(2) !== "1.00") small.push(`learnt: ${ratio(factor)} times the air by the draught`);
  if (Math.abs(aside) >= 0.01) {
    small.push(`${percent(Math.abs(aside))} ${aside < 0 ? "less" : "more"} just now, to see what the kiln makes of it`);
  }
  return [
    ["Air for the fuel", ratioWords(status), small],
    ["Burning", kgPerH(status.burns_kg_per_h), [`in ${kgPerH(status.air_kg_per_h)} of air`]],
  ];
}

function ratioWords({ air_ratio: reckoned, air_std_frac: std, oxygen_air_ratio: probe }) {
  const known = reckoned ?? probe;
  if (known === null) return "not known";
  if (known > PLENTY) return `over ${PLENTY}`;
  return reckoned === null ? ratio(known) : `${ratio(known)}\u00a0±\u00a0${ratio(known * std)}`;
}

function source({ air_ratio: reckoned, oxygen_air_ratio: probe }) {
  if (reckoned === null) return probe === null ? "no instrument tells: go by the flame" : "measured: the oxygen probe";
  return probe === null ? "reckoned from draught and feed" : `measured: the oxygen probe reads ${ratio(probe)}`;
}

function atmosphereRows({ stage, plan, wanted_air_ratio: wanted, reduced_s: reducedS }) {
  if (stage === null) return [];
  const { atmosphere } = plan.stages[stage];
  const small = [];
  if (atmosphere.endsWith("reduction") && wanted !== null && wanted >= 1) {
    small.push("not now: the fire is given enough air");
  }
  if (reducedS >= 60) small.push(`reduced for ${span(reducedS)} in this firing`);
  return [["Atmosphere", atmosphere, small]];
}

function heatRow(status, units) {
  const owedS = status.work_owed_s ?? 0;
  return ["Kiln takes", kgPerH(status.walls_kg_per_h), [
    "for its walls, in pellets by heat",
    `${signed(status.load_kg_per_h)}\u00a0kg/h load: not explained`,
    `${units.perDegree(status.mass_kg_per_k * 1000).toFixed(1)}\u00a0g for each ${units.degree} more`,
    `chamber by this balance ${units.temperature(status.estimated_chamber_c)}`,
    ...(Math.abs(owedS) >= TOLD_S ? [workWords(owedS)] : []),
  ]];
}

function workWords(owedS) {
  return owedS > 0
    ? `${span(owedS)} of heat work owed: the setpoint rises a little for it`
    : `${span(-owedS)} of heat work beyond the plan: the setpoint falls a little for it`;
}
