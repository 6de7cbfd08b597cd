// The log sheet: everything the last status says, written in its place.

import { at, make, redraw, show, write } from "./dom.js";
import { fireRows, reductionWanted } from "./fire.js";
import { bags, clock, countdown, percent, span } from "./units.js";

const AS_NEEDED = "as needed";

export function writeSheet(status, units) {
  writeHead(status, units);
  writeNotices(status.notices);
  writeAttendance(status);
  writeHeat(status, units);
  redraw("readings", [readings(status, units)], () => readings(status, units).map(line));
  redraw("stages", [status.plan, status.stage], () => stages(status, units));
  write("clock", `Kiln heard ${clock(status.utc_s)}`);
}

function writeHead(status, units) {
  show("rehearsal", status.rehearsal);
  const parts = [status.firing === null ? "No firing" : `Firing ${status.firing}`, status.plan.name];
  if (status.firing !== null && status.elapsed_s !== null) parts.push(span(status.elapsed_s));
  write("heading", parts.join(" · "));
  const state = capitalised(status.state);
  write("state", state);
  write("stage", stageWords(status, units));
  show("caution", reductionWanted(status));
  const title = status.notices.some((n) => n.level === "trip") ? `Trip: ${state}` : state;
  if (document.title !== title) document.title = title;
}

function capitalised(words) {
  return words.charAt(0).toUpperCase() + words.slice(1);
}

function stageWords({ stage, plan }, units) {
  if (stage === null) return "";
  const planned = plan.stages[stage];
  return `Stage ${stage + 1} of ${plan.stages.length}, ${planned.name}: ${doing(planned, units)}`;
}

function writeNotices(notices) {
  const order = { trip: 0, warning: 1, note: 2 };
  const sorted = [...notices].sort((a, b) => order[a.level] - order[b.level] || b.first_out - a.first_out);
  const facts = sorted.map(({ stood_s, ...rest }) => rest); // the age alone is no news
  redraw("notices", facts, () => facts.map(card));
  const ages = at("notices").querySelectorAll(".since");
  sorted.forEach(({ stood_s: stoodS }, k) => {
    ages[k].textContent = stoodS < 60 ? "just now" : `for ${span(stoodS)}`;
  });
}

function card(notice) {
  const kind = { trip: "Trip", warning: "Warning", note: "Note" }[notice.level];
  const head = make("h3", "", make("span", "kind", kind));
  if (notice.first_out) head.append(make("span", "first", "came first"));
  if (notice.standing) head.append(make("span", "standing", notice.standing));
  const since = make("span", "since");
  since.setAttribute("aria-live", "off");
  head.append(since);
  const rows = [["Happened", notice.happened], ["Done", notice.did], ["Do next", notice.do_next]];
  return make("article", `card ${notice.level}`, head, make("dl", "", ...rows.map(([name, words]) =>
    make("div", name === "Do next" ? "next" : "", make("dt", "", name), make("dd", "", words)))));
}

function writeAttendance({ attendance, wanted }) {
  show("attendance", wanted.some((w) => w.ask === "here"));
  at("attendance").dataset.level = attendance.level;
  write("due", dueWords(attendance));
}

function dueWords({ level, due_in_s: dueInS }) {
  if (dueInS === null) return "";
  const late = `${countdown(-dueInS)} late`;
  switch (level) {
    case "reminder":
      return `Time to look in, ${late}`;
    case "horn":
      return `The kiln is calling you, ${late}`;
    case "overdue":
      return `Nobody has answered, ${late}: go to the kiln now`;
    default:
      return `Next look-in due in ${countdown(dueInS)}`;
  }
}

function writeHeat({ chamber_c: hot, setpoint_c: setpoint, blind }, units) {
  at("chamber").classList.toggle("blind", hot === null);
  write("chamber", hot === null ? "Blind" : units.temperature(hot));
  const parts = hot === null ? [blind.chamber] : [];
  parts.push(setpoint === null ? "No setpoint now" : `Setpoint ${units.temperature(setpoint)}`);
  if (hot !== null && setpoint !== null) parts.push(difference(hot - setpoint, units));
  write("setpoint", parts.join(", "));
}

function difference(gapK, units) {
  const words = units.gap(Math.abs(gapK));
  if (Number.parseInt(words, 10) === 0) return "just there";
  return `${words} ${gapK < 0 ? "below" : "above"}`;
}

function readings(status, units) {
  const rows = [];
  const add = (name, value, small = "", mark = "") => rows.push([name, value, small, mark]);
  const blind = status.blind ?? {};
  const instrument = (name, key, value, words, small = "") => {
    if (blind[key]) add(name, "Blind", blind[key], "blind");
    else if (value !== null) add(name, words(value), small);
  };
  const flag = (name, said, yes, no) => {
    if (said !== null) add(name, said ? yes : no);
  };
  const draughtSetpoint = status.draught_setpoint_pa === null ? "" : `setpoint ${units.draught(status.draught_setpoint_pa)}`;
  instrument("Draught", "draught", status.draught_pa, units.draught, draughtSetpoint);
  if (status.draught_pa === null && !blind.draught && draughtSetpoint) {
    add("Draught", draughtSetpoint, "by the gauge and the hand");
  }
  rows.push(...fireRows(status, units));
  add("Auger", status.auger ? "turning" : "still", shaftWords(status));
  flag("Fire", status.flame_seen, "seen", "not seen");
  flag("Airflow", status.airflow_proven, "proven", "not proven");
  instrument("Flue", "flue", status.flue_c, units.temperature);
  instrument("Limit probe", "limit", status.limit_c, units.temperature);
  for (const [name, hot] of Object.entries(status.more_probes_c ?? {})) instrument(name, name, hot, units.temperature);
  instrument("Feed tube", "feed_tube", status.feed_tube_c, units.temperature);
  if (status.fan_frac !== null) add("Fan", status.fan_frac > 0 ? percent(status.fan_frac) : "off");
  if (status.damper_frac !== null) add("Damper", `${percent(status.damper_frac)} open`);
  add("Pellets so far", `${status.pellets_kg.toFixed(1)}\u00a0kg`, `${bags(status.pellets_kg)} bags of 40 lb`);
  flag("Horn", status.horn, "sounding", "silent");
  flag("Lamp", status.lamp, "lit", "dark");
  return rows;
}

function shaftWords({ shaft_turning: turning, auger }) {
  if (turning === null) return "contact read back; shaft not watched";
  if (turning) return "shaft seen turning";
  return auger ? "shaft not seen turning" : "";
}

function line([name, value, small, mark]) {
  const said = make("dd", mark, make("span", "value", value));
  for (const words of [small].flat().filter(Boolean)) said.append(make("small", "", words));
  return make("div", "", make("dt", "", name), said);
}

function stages({ plan, stage }, units) {
  return plan.stages.map((planned, k) => {
    const current = stage === k;
    const name = make("th", "", current ? `▸ ${planned.name}` : planned.name);
    name.scope = "row";
    const cell = (value, words) => make("td", ...(value === null ? ["", AS_NEEDED] : ["number", words(value)]));
    const row = make("tr", current ? "current" : stage !== null && k < stage ? "past" : "", name,
      make("td", "", doing(planned, units)),
      cell(planned.feed_frac, percent), cell(planned.draught_pa, units.draught));
    if (current) {
      row.setAttribute("aria-current", "step");
      name.append(make("small", "", "now"));
    }
    return row;
  });
}

export function doing(planned, units) {
  const parts = [{ fixed: "fixed feed", climb: "climb", soak: "soak" }[planned.kind]];
  if (planned.rate_c_per_h !== null) parts.push(`at ${units.rate(planned.rate_c_per_h)}`);
  if (planned.cone !== null) parts.push(`to cone ${planned.cone}`);
  if (planned.to_c !== null) {
    const hot = units.temperature(planned.to_c);
    parts.push(planned.cone !== null ? `(${hot})` : `to ${hot}`);
  }
  if (planned.for_s !== null) parts.push(`for ${span(planned.for_s)}`);
  const words = parts.join(" ");
  return planned.atmosphere === "oxidation" ? words : `${words}, ${planned.atmosphere}`;
}
