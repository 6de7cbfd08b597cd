// The page's door for units: the server speaks °C, Pa, kg and seconds, a person reads what the plan says.

const NBSP = "\u00a0"; // a number and its unit stay on one line
const PA_PER_INCH_OF_WATER = 249.089; // NIST SP 811, conventional water
const KG_PER_BAG = 40 * 0.45359237; // a 40 lb bag of pellets

export function unitsOf(plan) {
  const fahrenheit = plan.temperature_unit === "F";
  const inches = plan.draught_unit === "inH2O";
  const degree = fahrenheit ? "°F" : "°C";
  const degrees = (c) => (fahrenheit ? c * 1.8 + 32 : c);
  const gap = (k) => (fahrenheit ? k * 1.8 : k); // a difference or a rate has no +32
  return {
    degree,
    degrees,
    temperature: (c) => `${Math.round(degrees(c))}${NBSP}${degree}`,
    perDegree: (perK) => perK / gap(1),
    gap: (k) => `${Math.round(gap(k))}${NBSP}${degree}`,
    rate: (cPerH) => `${Math.round(gap(cPerH))}${NBSP}${degree}/h`,
    draught: (pa) =>
      inches ? `${(pa / PA_PER_INCH_OF_WATER).toFixed(3)}${NBSP}in.${NBSP}w.c.` : `${pa.toFixed(1)}${NBSP}Pa`,
  };
}

export function percent(frac, digits = 0) {
  return `${(frac * 100).toFixed(digits)}${NBSP}%`;
}

export function signedPercent(frac) {
  const points = (Math.abs(frac) * 100).toFixed(1);
  return points === "0.0" ? "0.0" : `${frac < 0 ? "−" : "+"}${points}`;
}

export function ratio(value) {
  return value.toFixed(2);
}

export function signed(value) {
  const amount = Math.abs(value).toFixed(2);
  return amount === "0.00" ? amount : `${value < 0 ? "−" : "+"}${amount}`;
}

export function kgPerH(value) {
  return `${value.toFixed(2)}${NBSP}kg/h`;
}

export function bags(kg) {
  return (kg / KG_PER_BAG).toFixed(1);
}

export function span(seconds) {
  const minutes = Math.round(seconds / 60);
  if (minutes < 60) return `${minutes}${NBSP}min`;
  const rest = minutes % 60;
  return rest === 0 ? `${Math.floor(minutes / 60)}${NBSP}h` : `${Math.floor(minutes / 60)}${NBSP}h ${rest}${NBSP}min`;
}

export function countdown(seconds) {
  const s = Math.max(0, Math.floor(seconds));
  return `${Math.floor(s / 60)}:${String(s % 60).padStart(2, "0")}`;
}

export function hours(seconds) {
  const minutes = Math.round(seconds / 60);
  return `${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, "0")}`;
}

const OF_THE_DAY = { hour: "2-digit", minute: "2-digit", second: "2-digit", hourCycle: "h23" };

export function clock(utcS) {
  return new Date(utcS * 1000).toLocaleTimeString([], OF_THE_DAY);
}
