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

  /* The flat section n · x = d as it lies in the tank, whatever the attitude: each piece of wall with its face and
     that face's outward area in the plane. Places are told as (x, y) along e, across and upwards standing level. */
  function flat(tank, n, d) {
    const { v, f } = tank, plane = d + 1.3e-7 * tank.size, e = axesOf(n), pieces = [];
    for (let q = 0; q < tank.faceCount; q++) {
      let cut = null;
      for (let c = 0; c < 3; c++) {
        const i = 3 * f[3 * q + c], j = 3 * f[3 * q + ((c + 1) % 3)];
        const g = n[0] * v[i] + n[1] * v[i + 1] + n[2] * v[i + 2] - plane, h = n[0] * v[j] + n[1] * v[j + 1] + n[2] * v[j + 2] - plane;
        if (g < 0 === h < 0) continue;
        const w = g / (g - h), x = [0, 1, 2].map((m) => v[i + m] + w * (v[j + m] - v[i + m]));
        (cut ??= []).push(dot(x, e[0]), dot(x, e[1]));
      }
      if (!cut) continue;
      const area = [tank.areas[3 * q], tank.areas[3 * q + 1], tank.areas[3 * q + 2]];
      pieces.push({ ends: cut, face: q, area: [dot(area, e[0]), dot(area, e[1])] });
    }
    return { tank, n, e, plane, pieces };
  }

  /* Across and upwards in a plane with the level normal n, the machine standing level. */
  const axesOf = (n) => [[-n[1], n[0], 0], [0, 0, 1]];

  /* A flat section upright in the page. A place (s, t) lies at s across and t along the part of up that lies in
     the plane; its height is base + steep · t. Of each column `face` is the one at its floor, whose brim counts. */
  function section(at, { tank, n, e, plane, pieces }) {
    const a = dot(at.up, e[0]), b = dot(at.up, e[1]), steep = Math.hypot(a, b), [x, y] = [a / steep, b / steep];
    const walls = [], turned = [];
    for (const { ends: [p, q, r, w], face, area } of pieces) {
      let [s0, t0, s1, t1] = [p * y - q * x, p * x + q * y, r * y - w * x, r * x + w * y];
      if (s1 < s0) [s0, t0, s1, t1] = [s1, t1, s0, t0];
      walls.push([s0, t0, s1, t1]);
      if (s1 > s0) turned.push({ s0, t0, s1, t1, floor: area[0] * x + area[1] * y < 0, face });
    }
    const spot = (place) => { const [u, v] = [dot(place, e[0]), dot(place, e[1])]; return [u * y - v * x, u * x + v * y]; };
    return { walls, columns: columns(turned), base: dot(at.up, n) * plane, steep, spot, turn: Math.atan2(-x, y) };
  }

  /* Edges at which the tank's surface bends by more than 25°, and those of its outline, as x, y of both ends seen
     along n: what lies before and behind a cut. Nothing where there are so many that they would hide it. */
  function edgesAlong(tank, n) {
    const e = axesOf(n), { v } = tank, seen = [];
    const away = (q) => dot(n, [tank.areas[3 * q], tank.areas[3 * q + 1], tank.areas[3 * q + 2]]) < -1e-9 * tank.size * tank.size;
    for (const [i, j, bend, one, other] of edgesOf(tank)) {
      if (!bend && away(one) === away(other)) continue;
      const [p, q] = [i, j].map((k) => [0, 1].map((c) => dot([v[3 * k], v[3 * k + 1], v[3 * k + 2]], e[c])));
      if (Math.hypot(p[0] - q[0], p[1] - q[1]) > 1e-9 * tank.size) seen.push([...p, ...q]);
    }
    return seen.length > 4000 ? [] : seen;
  }

  /* Every edge once: its ends, whether the surface bends there, its two faces. */
  function edgesOf(tank) {
    if (tank.edges) return tank.edges;
    const { f, areas, count } = tank, open = new Map(), out = [], least = Math.cos((25 * Math.PI) / 180);
    const along = (q, r) => {
      const [a, b] = [q, r].map((k) => [areas[3 * k], areas[3 * k + 1], areas[3 * k + 2]]);
      return dot(a, b) / (Math.hypot(...a) * Math.hypot(...b) || 1);
    };
    for (let q = 0; q < tank.faceCount; q++) {
      for (let c = 0; c < 3; c++) {
        const [i, j] = [f[3 * q + c], f[3 * q + ((c + 1) % 3)]], back = j * count + i;
        if (!open.has(back)) { open.set(i * count + j, q); continue; }
        out.push([i, j, along(open.get(back), q) < least, open.get(back), q]);
        open.delete(back);
      }
    }
    tank.edges = out;
    return out;
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

  return { flat, section, edgesAlong, surface, brimOver };
})();
