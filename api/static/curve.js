// The curve: chamber, setpoint and flue as recorded, and the planned line from where the firing stands.

import { at, write } from "./dom.js";
import { hours, span } from "./units.js";

const NO_UPLOT = "No curve: uPlot, which draws it, is missing. The rest of the page is right. Install Stokehand again.";

let chart = null;
let drawnWith = "";
let last = null; // what was drawn, to draw it again when the light or the width changes

// The plan as corner points from now on. A stage without an end in time or temperature ends the line: nobody knows.
export function plannedFrom(sinceStartS, fromC, status) {
  if (status.stage === null || fromC === null) return [];
  const corners = [[sinceStartS, fromC]];
  let [t, c] = corners[0];
  for (let k = status.stage; k < status.plan.stages.length; k += 1) {
    const { kind, to_c: toC, rate_c_per_h: rate, for_s: forS } = status.plan.stages[k];
    const spent = k === status.stage && kind === "soak" ? status.state_for_s : 0;
    if (kind === "climb" && toC !== null && rate > 0) {
      t += Math.max(0, (toC - c) / rate) * 3600;
      c = Math.max(c, toC);
    } else if (kind === "soak" && forS !== null) {
      t += Math.max(0, forS - spent);
    } else {
      break;
    }
    corners.push([t, c]);
  }
  return corners.length > 1 ? corners : [];
}

// Where the record has a hole the line has one too.
function withHoles(columns) {
  const [t] = columns;
  if (t.length < 3) return columns;
  const usual = (t.at(-1) - t[0]) / (t.length - 1);
  const out = columns.map(() => []);
  t.forEach((now, k) => {
    const before = t[k - 1] ?? now;
    if (now - before > Math.max(5 * usual, 10)) out.forEach((c, n) => c.push(n ? null : (now + before) / 2));
    out.forEach((c, n) => c.push(columns[n][k]));
  });
  return out;
}

export function drawCurve(curve, status, units) {
  last = [curve, status, units];
  const recorded = withHoles([curve.since_start_s, curve.chamber_c, curve.setpoint_c, curve.flue_c]);
  const endS = curve.since_start_s.at(-1) ?? 0;
  const fromC = curve.setpoint_c.at(-1) ?? curve.chamber_c.at(-1) ?? null;
  const planned = plannedFrom(endS, fromC, status);
  const drawable = typeof uPlot !== "undefined"; // it is put beside this file when the project is installed
  const readable = curve.since_start_s.length > 0;
  write("curve-note", !drawable ? NO_UPLOT : readable ? "" : "No readings recorded yet.");
  at("chart").hidden = !drawable || !readable;
  at("key").hidden = at("chart").hidden;
  if (at("chart").hidden) return;
  const degrees = (column) => column.map((c) => (c === null ? null : units.degrees(c)));
  const data = uPlot.join([
    [recorded[0], ...recorded.slice(1).map(degrees)],
    planned.length ? [planned.map((p) => p[0]), degrees(planned.map((p) => p[1]))] : [[endS], [null]],
  ], [[2, 2, 2], [1]]);
  put(data, units.degree);
  const hot = curve.chamber_c.at(-1);
  const words = hot === null ? "chamber blind" : `chamber now ${units.temperature(hot)}`;
  const end = planned.length ? `, plan ends ${span(planned.at(-1)[0] - endS)} from now` : "";
  at("chart").setAttribute("aria-label", `Curve of ${span(endS)}: ${words}${end}`);
}

function put(data, degree) {
  const place = at("chart");
  const style = getComputedStyle(document.documentElement);
  const colour = (name) => style.getPropertyValue(name).trim();
  const width = place.clientWidth;
  const height = Math.round(Math.min(360, Math.max(240, width * 0.55)));
  const key = JSON.stringify([degree, width, height, colour("--ink")]);
  if (chart && drawnWith === key) {
    chart.setData(data);
    return;
  }
  chart?.destroy();
  drawnWith = key;
  const font = "13px system-ui, sans-serif";
  const axis = { stroke: colour("--ink"), font, grid: { stroke: colour("--rule"), width: 1 },
    ticks: { stroke: colour("--rule"), width: 1 } };
  const step = [300, 600, 900, 1800, 3600, 7200, 10800, 21600, 43200, 86400];
  chart = new uPlot({
    width,
    height,
    legend: { show: false },
    cursor: { show: false },
    scales: { x: { time: false } },
    axes: [
      { ...axis, incrs: step, space: 60, size: 34, values: (_, ticks) => ticks.map((s) => `${hours(s)} h`) },
      { ...axis, size: 58, values: (_, ticks) => ticks.map((v) => `${v}°`) },
    ],
    series: [
      {},
      { stroke: colour("--hot"), width: 3, points: { show: false } },
      { stroke: colour("--ink"), width: 1.5, dash: [8, 5], points: { show: false } },
      { stroke: colour("--flue"), width: 1.5, points: { show: false } },
      { stroke: colour("--ink"), width: 2, dash: [2, 4], points: { show: false }, spanGaps: true },
    ],
  }, data, place);
}

function again() {
  if (last) drawCurve(...last);
}

export function keepInShape() {
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", again);
  new ResizeObserver(again).observe(at("chart"));
}
