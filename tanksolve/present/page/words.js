/* Angles and quantities in words; the same forms as the text answers of tanksolve. */
"use strict";
const Words = (() => {
  const DEG = Math.PI / 180, HAIR = 1e-6;
  let units = { length: { symbol: "mm", size: 0.001, digits: 1 }, volume: { symbol: "L", size: 0.001, digits: 2 } };

  const setUnits = (given) => { units = given; };
  const unit = (kind) => units[kind];

  /* Rounded to the nearest, or never above ("down"), never below ("up"). */
  function rounded(value, digits, way = "nearest") {
    const step = 10 ** digits;
    if (way === "down") return Math.floor(value * step + HAIR) / step;
    if (way === "up") return Math.ceil(value * step - HAIR) / step;
    return Math.round(value * step) / step;
  }

  function told(value, kind, way = "nearest") {
    if (!Number.isFinite(value)) return "–";
    const { symbol, size, digits } = units[kind], number = rounded(value / size, digits, way);
    return `${(number === 0 ? 0 : number).toFixed(digits)} ${symbol}`;
  }

  /* A slope in degrees and in grade percent, both rounded down, as everywhere: docs/decisions/1303. */
  function slope(radians) {
    const degrees = rounded(radians / DEG, 1, "down");
    return degrees >= 90 ? `${degrees.toFixed(1)}° (upright or beyond: no grade)` : `${degrees.toFixed(1)}° (${grade(degrees)})`;
  }

  const grade = (degrees) => `${rounded(100 * Math.tan(degrees * DEG), 1, "down").toFixed(1)} % grade`;
  const flat = (degrees) => slope(Math.abs(degrees) * DEG);
  const pitch = (degrees) => (Math.abs(degrees) < 0.05 ? "level fore and aft" : `${flat(degrees)} nose ${degrees > 0 ? "up" : "down"}`);
  const roll = (degrees) => (Math.abs(degrees) < 0.05 ? "level across" : `${flat(degrees)} ${degrees > 0 ? "right" : "left"} side down`);

  /* Two inclinometer readings, each axis against the horizontal [degrees], and the unit vector up. */
  function upOf(p, r) {
    const x = Math.sin(p * DEG), y = Math.sin(r * DEG);
    return [x, y, Math.sqrt(Math.max(0, 1 - x * x - y * y))];
  }
  const readings = (up) => [Math.asin(up[0]) / DEG, Math.asin(up[1]) / DEG];
  const slopeOf = (up) => Math.atan2(Math.hypot(up[0], up[1]), up[2]);

  /* Which sides are down, the lower first. */
  function sides(up) {
    const [p, r] = readings(up), said = [];
    if (Math.abs(p) >= 0.05) said.push([Math.abs(p), p > 0 ? "nose up" : "nose down"]);
    if (Math.abs(r) >= 0.05) said.push([Math.abs(r), r > 0 ? "right side down" : "left side down"]);
    return said.sort((a, b) => b[0] - a[0]).map((one) => one[1]).join(", ") || "level ground";
  }

  const RULES = { wet: "must stay wet", dry: "must stay dry", none: "sets no limit" };
  return { DEG, setUnits, unit, rounded, told, slope, pitch, roll, upOf, readings, slopeOf, sides, RULES };
})();
