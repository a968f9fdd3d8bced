/* Flat cuts through the tank and its liquid, to be drawn; see engine.js for frames and units.

   A place in the liquid space is wet if and only if it lies below the brim over the face straight below it:
   a drop from there runs down to that face without climbing. So a section is told column by column. */
"use strict";
const Cuts = (() => {
  const { dot } = Engine;

  /* Upright strips of a flat section, from directed pieces {s0, t0, s1, t1, floor}: for each strip between
     two breaks the floor and roof of every column, [s0, s1, low at both, high at both, piece of the floor]. */
  function columns(pieces) {
    const breaks = [...new Set(pieces.flatMap((p) => [p.s0, p.s1]))].sort((a, b) => a - b), out = [];
    const ordered = pieces.slice().sort((a, b) => a.s0 - b.s0);
    let from = 0, open = [];
    for (let k = 0; k + 1 < breaks.length; k++) {
      const [a, b] = [breaks[k], breaks[k + 1]], mid = 0.5 * (a + b);
      while (from < ordered.length && ordered[from].s0 <= a) open.push(ordered[from++]);
      open = open.filter((p) => p.s1 > a);
      const on = (p, s) => p.t0 + ((p.t1 - p.t0) * (s - p.s0)) / (p.s1 - p.s0);
      const here = open.map((p) => [on(p, mid), p]).sort((p, q) => p[0] - q[0]);
      let depth = 0, floor = null;
      for (const [, p] of here) {
        if (p.floor && depth++ === 0) floor = p;
        else if (!p.floor && --depth === 0 && floor)
          out.push({ s0: a, s1: b, low: [on(floor, a), on(floor, b)], high: [on(p, a), on(p, b)], face: floor.face });
      }
    }
    return out;
  }

  /* The flat section n · x = d, upright in the page: pieces of wall, and columns of the space inside.
     A place (s, t) lies at s across and t along the part of up that lies in the plane; its height is
     base + steep · t. Of each column `face` is the one at its floor, whose brim counts for it. */
  function section(at, n, d) {
    const { tank, up } = at, { v, f } = tank, hair = 1.3e-7 * tank.size, plane = d + hair;
    const along = dot(up, n), t = [0, 1, 2].map((c) => up[c] - along * n[c]), steep = Math.hypot(...t);
    const unit = t.map((c) => c / steep), side = [unit[1] * n[2] - unit[2] * n[1], unit[2] * n[0] - unit[0] * n[2], unit[0] * n[1] - unit[1] * n[0]];
    const pieces = [], walls = [];
    for (let q = 0; q < tank.faceCount; q++) {
      const p = [0, 1, 2].map((c) => [v[3 * f[3 * q + c]], v[3 * f[3 * q + c] + 1], v[3 * f[3 * q + c] + 2]]);
      const g = p.map((x) => dot(x, n) - plane), cut = [];
      for (let c = 0; c < 3; c++) {
        const e = (c + 1) % 3;
        if (g[c] < 0 === g[e] < 0) continue;
        const w = g[c] / (g[c] - g[e]), x = [0, 1, 2].map((m) => p[c][m] + w * (p[e][m] - p[c][m]));
        cut.push([dot(x, side), dot(x, unit)]);
      }
      if (cut.length < 2) continue;
      const area = [0, 1, 2].map((c) => tank.areas[3 * q + c]), floor = dot(area, unit) < 0;
      const [one, two] = cut[0][0] <= cut[1][0] ? cut : [cut[1], cut[0]];
      walls.push([one[0], one[1], two[0], two[1]]);
      if (two[0] > one[0]) pieces.push({ s0: one[0], t0: one[1], s1: two[0], t1: two[1], floor, face: q });
    }
    return { walls, columns: columns(pieces), base: along * plane, steep, side, unit };
  }

  /* The free surface of a state as triangles, flat x, y, z: each pool's plane, cut out of the tank. */
  function surface({ at, over }) {
    const { tank, up } = at, { v, f } = tank, g = Engine.grid(at), byPool = new Map(), flat = [];
    for (let q = 0; q < tank.faceCount; q++) {
      const z = [at.z[f[3 * q]], at.z[f[3 * q + 1]], at.z[f[3 * q + 2]]], lowest = Math.min(...z);
      const brim = over(Engine.nodeOfFace(at, q), lowest);
      if (!(brim > lowest && brim < Math.max(...z))) continue;
      const cut = [];
      for (let c = 0; c < 3; c++) {
        const e = (c + 1) % 3;
        if (z[c] < brim === z[e] < brim) continue;
        const w = (brim - z[c]) / (z[e] - z[c]), i = 3 * f[3 * q + c], j = 3 * f[3 * q + e];
        const x = [0, 1, 2].map((m) => v[i + m] + w * (v[j + m] - v[i + m]));
        cut.push([dot(x, g.a), dot(x, g.b)]);
      }
      const floor = dot([tank.areas[3 * q], tank.areas[3 * q + 1], tank.areas[3 * q + 2]], g.b) < 0;
      const [one, two] = cut[0][0] <= cut[1][0] ? cut : [cut[1], cut[0]], key = Engine.poolOfFace(at, q, brim);
      if (!byPool.has(key)) byPool.set(key, { brim, pieces: [] });
      if (two[0] > one[0]) byPool.get(key).pieces.push({ s0: one[0], t0: one[1], s1: two[0], t1: two[1], floor, face: q });
    }
    for (const { brim, pieces } of byPool.values()) {
      const put = (s, t) => { for (let c = 0; c < 3; c++) flat.push(s * g.a[c] + t * g.b[c] + brim * up[c]); };
      for (const { s0, s1, low, high } of columns(pieces)) {
        put(s0, low[0]); put(s1, low[1]); put(s1, high[1]);
        put(s0, low[0]); put(s1, high[1]); put(s0, high[0]);
      }
    }
    return flat;
  }

  /* How high liquid stands over a column's floor in a state, as a height along up. */
  function brimOver(state, face) {
    const { at } = state, f = at.tank.f;
    const lowest = Math.min(at.z[f[3 * face]], at.z[f[3 * face + 1]], at.z[f[3 * face + 2]]);
    return state.over(Engine.nodeOfFace(at, face), lowest);
  }

  return { section, surface, brimOver };
})();
