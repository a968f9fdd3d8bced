/* The liquid in a tilted tank, computed in the page: the same statements as tanksolve's kernels.

   Lengths in m, volumes in m³, places from the mesh's own origin. `up` is the unit vector opposite to
   gravity, as seen from the tank; z(x) = up · x. Where only one free surface is possible (a convex tank)
   its level decides. Elsewhere the worst state of rest does, whatever the machine did before: all liquid
   lies below the brims of the hollows that it would have to climb out of to get to the port. A wet port
   with the edge e is certainly covered if and only if the fill is at least F(e); docs/theory/worst_state.md
   has the proof. No part of this file touches the page. */
"use strict";
const Engine = (() => {
  const NEGLIGIBLE = 1e-10; // of the tank's volume: shallower pits are part of their neighbour
  const GRID_HALF = 2 ** 24; // steps of the grid that drops fall on: products of two stay whole in a double
  const BINS = 48; // columns of faces, each way, that a drop is looked up in
  const MOST_PASSES = 80;

  /* ---- the mesh -------------------------------------------------------------------------------- */

  /* vertices: flat x, y, z; faces: flat corners, counter-clockwise seen from outside the liquid, sheets that
     only touch already split; links: one-way passages [{stations: [rows of 9], inside: [[x, y, z] of a row]}];
     convex: whether no edge is reflex. */
  function makeTank({ vertices, faces, links = [], convex }) {
    const v = Float64Array.from(vertices), f = Int32Array.from(faces);
    const count = v.length / 3, faceCount = f.length / 3;
    const first = new Int32Array(count + 1), areas = new Float64Array(3 * faceCount);
    for (const corner of f) first[corner + 1]++;
    for (let i = 0; i < count; i++) first[i + 1] += first[i];
    const free = first.slice(0, count), next = new Int32Array(3 * faceCount), around = new Int32Array(3 * faceCount);
    const normals = new Float64Array(3 * count);
    let capacity = 0, size = 0;
    for (let t = 0; t < faceCount; t++) {
      const [i, j, k] = [3 * f[3 * t], 3 * f[3 * t + 1], 3 * f[3 * t + 2]];
      const a = [v[j] - v[i], v[j + 1] - v[i + 1], v[j + 2] - v[i + 2]];
      const b = [v[k] - v[i], v[k + 1] - v[i + 1], v[k + 2] - v[i + 2]];
      const n = [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
      for (let c = 0; c < 3; c++) areas[3 * t + c] = 0.5 * n[c];
      capacity += (n[0] * v[i] + n[1] * v[i + 1] + n[2] * v[i + 2]) / 6;
      for (let c = 0; c < 3; c++) {
        const at = free[f[3 * t + c]]++;
        next[at] = f[3 * t + ((c + 1) % 3)];
        around[at] = t;
      }
      addAngleWeighted(normals, v, f, t, n);
    }
    for (let i = 0; i < count; i++) size = Math.max(size, Math.hypot(v[3 * i], v[3 * i + 1], v[3 * i + 2]));
    return { v, f, count, faceCount, first, next, around, areas, normals, capacity, size, links, convex };
  }

  /* Normals weighted by the corner angles (Baerentzen and Aanaes 2005): they tell an overhang from a pit. */
  function addAngleWeighted(normals, v, f, t, n) {
    const long = Math.hypot(n[0], n[1], n[2]);
    if (long === 0) return;
    for (let c = 0; c < 3; c++) {
      const [p, q, r] = [3 * f[3 * t + c], 3 * f[3 * t + ((c + 1) % 3)], 3 * f[3 * t + ((c + 2) % 3)]];
      const dot = (v[q] - v[p]) * (v[r] - v[p]) + (v[q + 1] - v[p + 1]) * (v[r + 1] - v[p + 1])
        + (v[q + 2] - v[p + 2]) * (v[r + 2] - v[p + 2]);
      const angle = Math.atan2(long, dot);
      for (let d = 0; d < 3; d++) normals[p + d] += (angle * n[d]) / long;
    }
  }

  /* ---- one triangle ---------------------------------------------------------------------------- */

  /* Mean of (h - z)+ over a triangle with corner heights z0 <= z1 <= z2. */
  function phi(h, z0, z1, z2) {
    if (h <= z0) return 0;
    if (h >= z2) return h - (z0 + z1 + z2) / 3;
    const a = h - z0, b = h - z1;
    if (b <= 0) return (a / 3) * (a / (z1 - z0)) * (a / (z2 - z0));
    const c = z2 - h;
    return (c * (a * a + a * b + b * b) + a * b * (a + b)) / (3 * (z2 - z0) * (z2 - z1));
  }

  /* Share of the triangle that lies below h: the derivative of phi. */
  function wetShare(h, z0, z1, z2) {
    if (h <= z0) return 0;
    if (h >= z2) return 1;
    const a = h - z0, b = h - z1;
    if (b <= 0) return (a / (z1 - z0)) * (a / (z2 - z0));
    const c = z2 - h;
    return (c * (a + b) + a * b) / ((z2 - z0) * (z2 - z1));
  }

  /* ---- what one attitude needs ----------------------------------------------------------------- */

  /* Heights of the vertices, and of each face that is not upright its corner heights, lowest first, and its
     flow: minus the outward area along up, positive with liquid above it. */
  function stand(tank, up) {
    const { v, f, areas } = tank, z = new Float64Array(tank.count);
    for (let i = 0; i < tank.count; i++) z[i] = up[0] * v[3 * i] + up[1] * v[3 * i + 1] + up[2] * v[3 * i + 2];
    const z0 = new Float64Array(tank.faceCount), z1 = z0.slice(), z2 = z0.slice(), flow = z0.slice();
    const face = new Int32Array(tank.faceCount);
    let put = 0, low = Infinity, high = -Infinity;
    for (let i = 0; i < tank.count; i++) { low = Math.min(low, z[i]); high = Math.max(high, z[i]); }
    for (let t = 0; t < tank.faceCount; t++) {
      flow[put] = -(up[0] * areas[3 * t] + up[1] * areas[3 * t + 1] + up[2] * areas[3 * t + 2]);
      if (flow[put] === 0) continue;
      let a = z[f[3 * t]], b = z[f[3 * t + 1]], c = z[f[3 * t + 2]], s;
      if (b < a) { s = a; a = b; b = s; }
      if (c < b) { s = b; b = c; c = s; if (b < a) { s = a; a = b; b = s; } }
      z0[put] = a; z1[put] = b; z2[put] = c;
      face[put++] = t;
    }
    return { tank, up, z, z0, z1, z2, flow, face, put, low, high };
  }

  /* Volume below the plane at h through the whole tank, and its free surface. */
  function volumeBelow(at, h) {
    let volume = 0, area = 0;
    for (let k = 0; k < at.put; k++) {
      if (at.z0[k] >= h) continue;
      volume += at.flow[k] * phi(h, at.z0[k], at.z1[k], at.z2[k]);
      area += at.flow[k] * wetShare(h, at.z0[k], at.z1[k], at.z2[k]);
    }
    return [volume, area];
  }

  /* The root of a growing function of [value, slope] between low and high: Newton inside a bracket. */
  function root(of, value, low, high, guess, exact) {
    let at = guess > low && guess < high ? guess : 0.5 * (low + high);
    for (let pass = 0; pass < MOST_PASSES; pass++) {
      const [held, area] = of(at), gap = held - value;
      if (Math.abs(gap) <= exact) return { at, low: at, high: at };
      if (gap > 0) high = at; else low = at;
      let trial = area > 0 ? at - gap / area : low;
      if (!(trial > low && trial < high)) trial = 0.5 * (low + high);
      if (trial === low || trial === high) break;
      at = trial;
    }
    return { at, low, high };
  }

  /* The level at which one surface through the whole tank holds the volume. */
  function levelOf(at, volume) {
    const held = Math.min(Math.max(volume, 0), at.tank.capacity * (1 - 1e-9));
    if (held <= 0) return at.low;
    return root((h) => volumeBelow(at, h), held, at.low, at.high, NaN, 1e-15 * at.tank.capacity).at;
  }

  /* ---- drops: what lies straight below ------------------------------------------------------------- */

  /* Two unit vectors across up, and the mesh rounded onto a grid of whole steps: the rounded mesh is still
     closed, and the side of an edge on which a drop falls is the sign of a whole number. */
  function grid(at) {
    if (at.grid) return at.grid;
    const { tank, up } = at, [x, y, z] = up.map(Math.abs);
    let a = x <= y && x <= z ? [0, up[2], -up[1]] : y <= z ? [-up[2], 0, up[0]] : [up[1], -up[0], 0];
    const long = Math.hypot(...a);
    a = a.map((c) => c / long);
    const b = [up[1] * a[2] - up[2] * a[1], up[2] * a[0] - up[0] * a[2], up[0] * a[1] - up[1] * a[0]];
    const steps = GRID_HALF / tank.size, ga = new Float64Array(tank.count), gb = ga.slice(), v = tank.v;
    for (let i = 0; i < tank.count; i++) {
      ga[i] = Math.floor((a[0] * v[3 * i] + a[1] * v[3 * i + 1] + a[2] * v[3 * i + 2]) * steps + 0.5);
      gb[i] = Math.floor((b[0] * v[3 * i] + b[1] * v[3 * i + 1] + b[2] * v[3 * i + 2]) * steps + 0.5);
    }
    at.grid = { a, b, steps, ga, gb };
    sortIntoBins(at);
    return at.grid;
  }

  const binOf = (steps) => Math.min(BINS - 1, Math.max(0, Math.floor(((steps + GRID_HALF) / (2 * GRID_HALF)) * BINS)));

  /* The faces with liquid above them, by the columns of the grid that they reach into. */
  function sortIntoBins(at) {
    const { ga, gb } = at.grid, f = at.tank.f, bins = Array.from({ length: BINS * BINS }, () => []);
    for (let k = 0; k < at.put; k++) {
      if (at.flow[k] <= 0) continue;
      const [i, j, m] = [f[3 * at.face[k]], f[3 * at.face[k] + 1], f[3 * at.face[k] + 2]];
      const a0 = binOf(Math.min(ga[i], ga[j], ga[m]) - 2), a1 = binOf(Math.max(ga[i], ga[j], ga[m]) + 2);
      const b0 = binOf(Math.min(gb[i], gb[j], gb[m]) - 2), b1 = binOf(Math.max(gb[i], gb[j], gb[m]) + 2);
      for (let p = a0; p <= a1; p++) for (let q = b0; q <= b1; q++) bins[p * BINS + q].push(at.face[k]);
    }
    at.grid.bins = bins;
  }

  /* Height at which the upright line through (a, b) meets a face with liquid above it, or -Infinity. */
  function hit(at, t, a, b) {
    const { ga, gb } = at.grid, f = at.tank.f, [i, j, k] = [f[3 * t], f[3 * t + 1], f[3 * t + 2]];
    const overI = (ga[k] - ga[j]) * (b - gb[j]) - (gb[k] - gb[j]) * (a - ga[j]);
    const overJ = (ga[i] - ga[k]) * (b - gb[k]) - (gb[i] - gb[k]) * (a - ga[k]);
    const overK = (ga[j] - ga[i]) * (b - gb[i]) - (gb[j] - gb[i]) * (a - ga[i]);
    if (overI > 0 || overJ > 0 || overK > 0) return -Infinity;
    const whole = overI + overJ + overK;
    if (whole === 0) return -Infinity;
    return (at.z[i] * overI + at.z[j] * overJ + at.z[k] * overK) / whole;
  }

  /* Highest face at or below top that stops a drop at (a, b); faces at the vertex `skip` are left out. */
  function drop(at, a, b, top, skip) {
    const f = at.tank.f;
    let best = -Infinity, found = -1;
    for (const t of at.grid.bins[binOf(a) * BINS + binOf(b)]) {
      if (skip >= 0 && (f[3 * t] === skip || f[3 * t + 1] === skip || f[3 * t + 2] === skip)) continue;
      const height = hit(at, t, a, b);
      if (height > best && height <= top) { best = height; found = t; }
    }
    return [found, best];
  }

  /* The face below a place in the liquid space or on its wall, and the height of the hit: rounding may put a
     place on a wall a step into the metal, so places two steps aside are tried too. */
  function below(at, place) {
    const g = grid(at), hair = 1e-6 * at.tank.size, dot = (u) => u[0] * place[0] + u[1] * place[1] + u[2] * place[2];
    const a = Math.floor(dot(g.a) * g.steps + 0.5), b = Math.floor(dot(g.b) * g.steps + 0.5), top = dot(at.up) + hair;
    let chosen = drop(at, a, b, top, -1);
    for (let k = 0; k < 9; k++) {
      if (k === 4) continue;
      const other = drop(at, a + 2 * Math.floor(k / 3) - 2, b + 2 * (k % 3) - 2, top, -1);
      if (other[1] > chosen[1] + hair) chosen = other;
    }
    return chosen;
  }

  const lowestCorner = (tree, f, t) => {
    let low = f[3 * t];
    for (let c = 1; c < 3; c++) if (tree.rank[f[3 * t + c]] < tree.rank[low]) low = f[3 * t + c];
    return low;
  };

  /* ---- the merge tree: where pools start and where they join ------------------------------------------ */

  /* Vertices are taken from low to high. One without a lower neighbour starts a pit, or, where liquid lies
     straight below it, belongs to the pool that a drop from it falls into. One with lower neighbours in two
     pools is the saddle where these join. Of equal heights first what is reached from below or along that
     height, then pits, then what hangs. Nodes come after their children. */
  function growTree(at) {
    if (at.tree) return at.tree;
    grid(at);
    const { tank, z } = at, n = tank.count, scale = 2 ** 40 / (2 * tank.size);
    const keys = Float64Array.from(z, (h) => Math.floor((h + tank.size) * scale + 0.5));
    const order = Uint32Array.from(keys, (_, i) => i).sort((i, j) => keys[i] - keys[j] || i - j);
    const s = {
      at, z, label: new Int32Array(n).fill(-1), rank: new Int32Array(n).fill(0x7fffffff),
      upTo: [], merged: [], birth: [], left: [], right: [], members: [], hanging: [], big: [], least: NEGLIGIBLE * tank.capacity,
    };
    let seen = 0, lost = 0;
    for (let low = 0, high; low < n; low = high) {
      high = low + 1;
      while (high < n && keys[order[high]] === keys[order[low]]) high++;
      const hung = [];
      for (let turn = high > low + 1 ? 0 : 2; turn < 3; turn++) {
        for (let i = low; i < high; i++) seen = takeIn(s, order[i], turn, keys, hung, seen);
      }
      for (const v of hung) { lost += linkHanging(s, v) ? 0 : 1; s.hanging[s.label[v]] = false; }
    }
    at.tree = compact(s, lost);
    return at.tree;
  }

  function find(s, node) {
    while (s.upTo[node] !== node) { s.upTo[node] = s.upTo[s.upTo[node]]; node = s.upTo[node]; }
    return node;
  }

  function newNode(s, vertex, left, right) {
    const node = s.upTo.length;
    s.upTo.push(node); s.merged.push(-1); s.birth.push(vertex); s.left.push(left); s.right.push(right);
    s.members.push([]); s.hanging.push(false); s.big.push(left >= 0);
    return node;
  }

  /* Take in one vertex, and along the same height what hangs together with it; returns how many were seen. */
  function takeIn(s, start, turn, keys, hung, seen) {
    const { first, next, normals } = s.at.tank, up = s.at.up, stack = [start];
    while (stack.length) {
      const v = stack.pop();
      if (s.label[v] >= 0) continue;
      let root = -1, several = false;
      for (let e = first[v]; e < first[v + 1]; e++) {
        if (s.label[next[e]] < 0) continue;
        const own = find(s, s.label[next[e]]);
        if (root < 0) root = own; else if (own !== root) several = true;
      }
      if (root < 0) {
        const hangs = normals[3 * v] * up[0] + normals[3 * v + 1] * up[1] + normals[3 * v + 2] * up[2] > 0;
        if (turn === 0 || (turn === 1 && hangs)) continue;
        root = newNode(s, v, -1, -1);
        s.hanging[root] = hangs;
        if (hangs) hung.push(v);
      } else if (several) {
        for (let e = first[v]; e < first[v + 1]; e++) {
          if (s.label[next[e]] < 0) continue;
          const own = find(s, s.label[next[e]]);
          root = find(s, root);
          if (own !== root) root = join(s, root, own, v);
        }
      }
      s.label[v] = root; s.rank[v] = seen++; s.members[root].push(v);
      for (let e = first[v]; e < first[v + 1]; e++)
        if (s.label[next[e]] < 0 && keys[next[e]] === keys[v]) stack.push(next[e]);
    }
    return seen;
  }

  function join(s, a, b, vertex) {
    const h = s.z[vertex];
    if (s.hanging[a] || (!s.hanging[b] && isNegligible(s, a, h))) return absorb(s, a, b);
    if (s.hanging[b] || isNegligible(s, b, h)) return absorb(s, b, a);
    const node = newNode(s, vertex, a, b);
    s.upTo[a] = s.upTo[b] = node;
    return node;
  }

  function absorb(s, node, into) {
    s.upTo[node] = s.merged[node] = into;
    for (const v of s.members[node]) s.members[into].push(v);
    s.members[node] = [];
    return into;
  }

  /* Whether a leaf that spills at height h holds next to nothing. */
  function isNegligible(s, leaf, h) {
    if (s.big[leaf]) return false;
    const { f, areas, first, around } = s.at.tank, up = s.at.up;
    let volume = 0;
    for (const v of s.members[leaf]) {
      for (let e = first[v]; e < first[v + 1]; e++) {
        const t = around[e], [i, j, k] = [f[3 * t], f[3 * t + 1], f[3 * t + 2]];
        if (s.rank[v] > Math.min(s.rank[i], s.rank[j], s.rank[k])) continue;
        const [z0, z1, z2] = [s.z[i], s.z[j], s.z[k]].sort((p, q) => p - q);
        volume -= (up[0] * areas[3 * t] + up[1] * areas[3 * t + 1] + up[2] * areas[3 * t + 2]) * phi(h, z0, z1, z2);
      }
    }
    s.big[leaf] = volume > s.least;
    return !s.big[leaf];
  }

  /* Join a hanging vertex to the pool that a drop from it falls into; false if it falls out of the mesh. */
  function linkHanging(s, v) {
    const g = s.at.grid, [t] = drop(s.at, g.ga[v], g.gb[v], s.z[v], v);
    if (t < 0) return false;
    const low = lowestCorner(s, s.at.tank.f, t);
    if (s.label[low] < 0) return false;
    const mine = find(s, s.label[v]), under = find(s, s.label[low]);
    if (mine !== under) join(s, mine, under, v);
    return true;
  }

  /* The nodes that are left, children before parents; the vertices labelled with them. */
  function compact(s, lost) {
    const number = new Int32Array(s.upTo.length).fill(-1), birth = [], left = [], right = [], parent = [];
    for (let node = 0; node < number.length; node++) {
      if (s.merged[node] >= 0) continue;
      number[node] = birth.length;
      birth.push(s.birth[node]); parent.push(-1);
      left.push(s.left[node] < 0 ? -1 : s.left[node]); right.push(s.right[node] < 0 ? -1 : s.right[node]);
    }
    const last = (node) => { while (s.merged[node] >= 0) node = s.merged[node]; return number[node]; };
    for (let k = 0; k < birth.length; k++) {
      if (left[k] < 0) continue;
      left[k] = last(left[k]); right[k] = last(right[k]);
      parent[left[k]] = parent[right[k]] = k;
    }
    const node = Int32Array.from(s.label, last), { tank, face, put } = s.at, nodeOf = new Int32Array(put);
    for (let k = 0; k < put; k++) nodeOf[k] = node[lowestCorner(s, tank.f, face[k])];
    return { z: s.z, rank: s.rank, node, birth, left, right, parent, lost, nodeOf };
  }

  function climb(tree, node, h) {
    while (tree.parent[node] >= 0 && tree.z[tree.birth[tree.parent[node]]] < h) node = tree.parent[node];
    return node;
  }

  /* ---- passages ------------------------------------------------------------------------------------- */

  /* Of each one-way passage the vertices below its mouths and its sill, the greatest of its stations' lowest
     points; one whose mouth is not found is left out, which is safe. */
  function passages(at) {
    if (at.links) return at.links;
    at.links = [];
    const u = at.up, dot = (p, k) => u[0] * p[k] + u[1] * p[k + 1] + u[2] * p[k + 2];
    for (const link of at.tank.links) {
      let sill = -Infinity;
      const mouths = [];
      link.stations.forEach((rows, station) => {
        let low = Infinity, row = 0;
        rows.forEach((r, k) => {
          const height = dot(r, 0) - Math.hypot(dot(r, 3), dot(r, 6));
          if (height < low) { low = height; row = k; }
        });
        sill = Math.max(sill, low);
        if (station === 0 || station === link.stations.length - 1) mouths.push(link.inside[station][row]);
      });
      const tree = growTree(at), faces = mouths.map((p) => below(at, p)[0]);
      if (faces.some((t) => t < 0)) continue;
      const [into, out] = faces.map((t) => lowestCorner(tree, at.tank.f, t));
      at.links.push({ into, out, sill });
    }
    return at.links;
  }

  /* ---- the worst state of rest ------------------------------------------------------------------------ */

  /* Least height for liquid to get from each node to one of the places [vertex, cost]: inside the node, and
     over its own saddle. A vertex x of node n gets there at min(outside[n], max(z(x), inside[n])). */
  function reach(tree, places) {
    const nodes = tree.birth.length, inside = new Float64Array(nodes).fill(Infinity), outside = inside.slice();
    for (const [v, cost] of places) {
      const n = tree.node[v];
      inside[n] = Math.min(inside[n], Math.max(cost, tree.z[v]));
    }
    const own = inside.slice();
    for (let n = 0; n < nodes; n++) {
      const p = tree.parent[n];
      if (p >= 0) inside[p] = Math.min(inside[p], inside[n]);
    }
    for (let n = nodes - 1; n >= 0; n--) {
      const p = tree.parent[n];
      if (p < 0) continue;
      const beside = inside[tree.left[p] === n ? tree.right[p] : tree.left[p]];
      outside[n] = Math.min(outside[p], Math.max(tree.z[tree.birth[p]], Math.min(beside, own[p])));
    }
    return { inside, outside };
  }

  /* The same with the in-mouths of passages among the places: costs fall until none does. */
  function reachThrough(at, places) {
    const tree = growTree(at), links = passages(at), cost = links.map(() => Infinity);
    let found = reach(tree, places);
    for (let round = 0; round < links.length; round++) {
      let fell = false;
      links.forEach(({ out, sill }, k) => {
        const n = tree.node[out];
        const on = Math.max(sill, Math.min(found.outside[n], Math.max(tree.z[out], found.inside[n])));
        if (on < cost[k]) { cost[k] = on; fell = true; }
      });
      if (!fell) break;
      const more = links.map((link, k) => [link.into, cost[k]]).filter(([, c]) => c < Infinity);
      found = reach(tree, [...places, ...more]);
    }
    return found;
  }

  const brimOf = (found, node, z0) => Math.min(found.outside[node], Math.max(z0, found.inside[node]));

  /* F of the places with these edges, liquid standing `rise` above them, and dF/drise. */
  function needed(at, places, edges, rise) {
    const tree = growTree(at), cost = edges.map((e) => e + rise);
    const found = reachThrough(at, places.map((v, k) => [v, cost[k]])), taken = new Set(cost);
    let volume = 0, area = 0;
    for (let k = 0; k < at.put; k++) {
      const z0 = at.z0[k], brim = brimOf(found, tree.nodeOf[k], z0);
      if (brim <= z0) continue;
      const h = Math.min(brim, at.tank.size);
      volume += at.flow[k] * phi(h, z0, at.z1[k], at.z2[k]);
      if (taken.has(brim)) area += at.flow[k] * wetShare(h, z0, at.z1[k], at.z2[k]);
    }
    return [volume, area];
  }

  /* How far above their edges places certainly take liquid when F is the volume; negative below. Over a
     place that can be dry it is told down to the lowest corner of the wall below it. */
  function leastRise(at, places, edges, volume, guess) {
    const z = at.z, over = places.map((v, k) => z[v] - edges[k]);
    const low = Math.min(...over), high = at.tank.size - Math.min(...edges);
    if (needed(at, places, edges, low)[0] >= volume) return Math.max(...over);
    const found = root((r) => needed(at, places, edges, r), volume, low, high, guess, 1e-15 * at.tank.capacity);
    return found.low === found.high ? found.at : found.low;
  }

  /* Which nodes hang together with a vertex below h, passages forward included. */
  function joinedWith(at, start, h) {
    const tree = growTree(at), joined = new Uint8Array(tree.birth.length);
    if (tree.z[start] > h) return joined;
    joined[climb(tree, tree.node[start], h)] = 1;
    for (let more = true; more;) {
      more = false;
      for (const { into, out, sill } of passages(at)) {
        if (sill >= h || tree.z[into] >= h || tree.z[out] >= h) continue;
        const beyond = climb(tree, tree.node[out], h);
        if (joined[climb(tree, tree.node[into], h)] && !joined[beyond]) { joined[beyond] = 1; more = true; }
      }
    }
    for (let n = joined.length - 1; n >= 0; n--) if (tree.parent[n] >= 0 && joined[tree.parent[n]]) joined[n] = 1;
    return joined;
  }

  /* Volume and free surface of what hangs together with `start` below h. */
  function joinedRoom(at, start, h) {
    const joined = joinedWith(at, start, h), nodeOf = growTree(at).nodeOf;
    let volume = 0, area = 0;
    for (let k = 0; k < at.put; k++) {
      if (at.z0[k] >= h || !joined[nodeOf[k]]) continue;
      volume += at.flow[k] * phi(h, at.z0[k], at.z1[k], at.z2[k]);
      area += at.flow[k] * wetShare(h, at.z0[k], at.z1[k], at.z2[k]);
    }
    return [volume, area];
  }

  /* Level at which room is the volume, or at which it jumps over it. */
  function highestAt(at, start, volume, guess) {
    const found = root((h) => joinedRoom(at, start, h), volume, at.z[start], at.tank.size, guess, 1e-15 * at.tank.capacity);
    return found.low === found.high ? found.at : found.high;
  }

  /* ---- ports ------------------------------------------------------------------------------------------ */

  const dot3 = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];

  /* Lowest and highest point of an opening along up: rows of centre, axis, disc radius, ball radius. */
  function reachOf(port, up) {
    let low = Infinity, high = -Infinity;
    for (const d of port.discs) {
      const n = [d[3], d[4], d[5]], along = dot3(up, d);
      const sideways = Math.hypot(up[1] * n[2] - up[2] * n[1], up[2] * n[0] - up[0] * n[2], up[0] * n[1] - up[1] * n[0]);
      const spread = sideways * d[6] + d[7];
      low = Math.min(low, along - spread);
      high = Math.max(high, along + spread);
    }
    return { low, high };
  }

  /* Height that liquid must reach over a wet port, or stay below at a dry one. */
  const edgeOf = (port, up) => (port.rule === "wet" ? reachOf(port, up).high + port.cover : reachOf(port, up).low - port.cover);

  /* Points of a dry port's opening below which liquid counts: its lowest, one of each
     part that walls cut off, the middle's first, with a clearance its rim. */
  function dryPlaces(port, up) {
    let lowest = null, least = Infinity;
    for (const d of port.discs) {
      const along = dot3(up, d.slice(3, 6)), across = [0, 1, 2].map((c) => up[c] - along * d[3 + c]);
      const long = Math.hypot(...across) || 1;
      const point = [0, 1, 2].map((c) => d[c] - (d[6] * across[c]) / long - d[7] * up[c]);
      if (dot3(point, up) < least) { least = dot3(point, up); lowest = point; }
    }
    return [lowest, ...port.parts, ...(port.cover > 0 ? port.rim : [])];
  }

  const cornerBelow = (at, place) => {
    const [t, floor] = below(at, place);
    return t < 0 ? null : { vertex: lowestCorner(growTree(at), at.tank.f, t), floor };
  };

  /* The worst margin of wet ports together (one of them suffices), each at one of its places. */
  function wetMargin(at, ports, volume, level) {
    let worst = null;
    const rounds = Math.max(...ports.map((p) => p.places.length));
    for (let r = 0; r < rounds; r++) {
      const vertices = [], edges = [];
      for (const port of ports) {
        const found = cornerBelow(at, port.places[Math.min(r, port.places.length - 1)]);
        if (found) { vertices.push(found.vertex); edges.push(edgeOf(port, at.up)); }
      }
      if (!vertices.length) return { margin: -Infinity, vertices, edges };
      const margin = leastRise(at, vertices, edges, volume, level - Math.min(...edges));
      if (!worst || margin < worst.margin) worst = { margin, vertices, edges };
    }
    return worst;
  }

  function dryMargin(at, port, volume, level) {
    const edge = edgeOf(port, at.up);
    let worst = { margin: edge - level, start: -1, level };
    let found = false;
    for (const place of dryPlaces(port, at.up)) {
      const under = cornerBelow(at, place);
      if (!under) continue;
      const h = Math.max(edge, under.floor, at.z[under.vertex]);
      const stands = highestAt(at, under.vertex, volume, level);
      if (!found || h - stands < worst.margin) {
        if (h - stands < worst.margin) worst = { margin: h - stands, start: under.vertex, level: stands };
      }
      found = true;
    }
    return found ? worst : { margin: -Infinity, start: -1, level };
  }

  /* ---- where one surface is certain ------------------------------------------------------------------------ */

  /* Whether a volume whose level through the whole tank is `level` has one surface at rest, whatever the machine did
     before: every pit lies below the level, and below it all hang together, or through a pipe open both ways. */
  function oneSurface(at, level) {
    if (at.tank.convex) return true;
    const tree = growTree(at), links = passages(at), pieces = new Set(), joined = new Map();
    if (tree.lost) return false; // something hangs over nothing: nothing is certain
    for (let n = 0; n < tree.birth.length; n++) {
      if (tree.left[n] >= 0) continue;
      if (tree.z[tree.birth[n]] >= level) return false;
      pieces.add(climb(tree, tree.node[tree.birth[n]], level));
    }
    const top = (piece) => { while (joined.has(piece)) piece = joined.get(piece); return piece; };
    const ways = links.filter(({ into, out, sill }) => Math.max(sill, tree.z[into], tree.z[out]) < level)
      .map(({ into, out }) => [into, out].map((v) => climb(tree, tree.node[v], level)));
    for (const [from, to] of ways) {
      if (!ways.some(([a, b]) => a === to && b === from) || top(from) === top(to)) continue;
      joined.set(top(from), top(to));
    }
    return new Set([...pieces].map(top)).size === 1;
  }

  /* ---- the answer at one attitude ------------------------------------------------------------------------ */

  /* ports: [{name, kind, rule: wet | dry | none, cover, discs, places, parts, rim}]; wet ports are judged at the
     least fill, dry ones at the most; pickups: "all", or "any" where one that is covered suffices.
     Returns rows in the ports' order, the margin and port of the whole tank, and the level of one surface. */
  function judge(tank, ports, up, fill, pickups = "all") {
    const at = stand(tank, up), least = Math.min(fill.least, tank.capacity * (1 - 1e-9)), most = Math.min(fill.most, tank.capacity);
    const levels = { wet: levelOf(at, least), dry: levelOf(at, most) };
    const single = { wet: oneSurface(at, levels.wet), dry: oneSurface(at, levels.dry) };
    const rows = ports.map((port) => {
      if (port.rule === "none") return { port, margin: levels.wet - reachOf(port, up).high, held: true };
      const edge = edgeOf(port, up);
      if (port.rule === "dry") {
        return { port, ...(single.dry ? { margin: edge - levels.dry } : dryMargin(at, port, most, levels.dry)) };
      }
      const one = levels.wet - edge;
      if (single.wet) return { port, margin: one };
      const parted = wetMargin(at, [port], least, levels.wet);
      return { port, ...parted, margin: Math.min(one, parted.margin) };
    });
    const group = pickups === "any" ? rows.filter((r) => r.port.rule === "wet" && r.port.kind === "pickup") : [];
    if (group.length > 1 && !single.wet) {
      const best = group.reduce((a, b) => (b.margin > a.margin ? b : a));
      const together = wetMargin(at, group.map((r) => r.port), least, levels.wet);
      if (together.margin > best.margin) Object.assign(best, together);
    }
    for (const row of rows) row.state = stateOf(row, up, levels);
    const ruled = rows.filter((r) => r.port.rule !== "none" && !group.includes(r));
    const best = group.length ? [group.reduce((a, b) => (b.margin > a.margin ? b : a))] : [];
    const worst = [...best, ...ruled].reduce((a, b) => (a && a.margin <= b.margin ? a : b), null);
    return { at, levels, single, rows, worst };
  }

  /* A port's state in words: covered or uncovered, dry or flooded. */
  function stateOf(row, up, levels) {
    const { port, margin } = row;
    if (port.rule === "dry") return margin + port.cover >= 0 ? "dry" : "flooded";
    return margin + (port.rule === "wet" ? port.cover : 0) >= 0 ? "covered" : "uncovered";
  }

  /* ---- states, to be told and drawn ---------------------------------------------------------------------- */

  /* A state: how high liquid stands over the lowest corner of each face of `at`, and, for any other face,
     over(node, z0). One level through the tank: */
  const oneLevel = (at, level) => stateWith(at, () => level);

  function stateWith(at, over) {
    const nodeOf = at.tank.convex ? null : growTree(at).nodeOf, brims = new Float64Array(at.put);
    for (let k = 0; k < at.put; k++) brims[k] = over(nodeOf ? nodeOf[k] : 0, at.z0[k]);
    return { at, brims, over };
  }

  /* The worst state for one row of `judge`, one of rest that some route can leave with this volume. A wet
     port's pool at its level and every other hollow at its brim; of a dry port its own pool, wherever the
     rest may be. */
  function worstState(at, row, level, volume) {
    if (!row || row.port.rule === "none" || !(row.vertices ? row.vertices.length : row.start >= 0)) return oneLevel(at, level);
    if (row.port.rule === "dry") {
      const joined = joinedWith(at, row.start, row.level);
      return stateWith(at, (node) => (joined[node] ? row.level : -Infinity));
    }
    const found = reachThrough(at, row.vertices.map((v, k) => [v, row.edges[k] + row.margin]));
    const brimFull = stateWith(at, (node, z0) => Math.min(brimOf(found, node, z0), at.high));
    return allElsewhere(brimFull, volume) || brimFull;
  }

  /* Where the other hollows hold more than there is, one of the states with nothing at the port: the greatest
     hollow is filled first, the last as far as the liquid goes. Null where they do not. */
  function allElsewhere(brimFull, volume) {
    const { at, over } = brimFull, tree = growTree(at), full = pools(brimFull), level = new Map();
    let left = volume;
    if (full.reduce((sum, pool) => sum + pool.volume, 0) <= volume * (1 + 1e-9)) return null;
    for (const pool of full) {
      level.set(pool.node, pool.volume <= left ? pool.level : left <= 0 ? -Infinity : levelIn(brimFull, pool, left));
      left -= Math.min(left, pool.volume);
    }
    const lowered = (node, z0) => {
      const brim = over(node, z0);
      if (!(brim > z0)) return brim;
      const kept = level.get(climb(tree, node, brim));
      return kept === undefined ? -Infinity : Math.min(brim, kept);
    };
    return { ...stateWith(at, lowered), elsewhere: true };
  }

  /* The level at which one pool of a state holds the volume. */
  function levelIn({ at, brims }, pool, volume) {
    const tree = growTree(at), own = [];
    for (let k = 0; k < at.put; k++) if (brims[k] > at.z0[k] && climb(tree, tree.nodeOf[k], brims[k]) === pool.node) own.push(k);
    const held = (h) => {
      let sum = 0, area = 0;
      for (const k of own) {
        sum += at.flow[k] * phi(h, at.z0[k], at.z1[k], at.z2[k]);
        area += at.flow[k] * wetShare(h, at.z0[k], at.z1[k], at.z2[k]);
      }
      return [sum, area];
    };
    return root(held, volume, at.low, pool.level, NaN, 1e-15 * at.tank.capacity).at;
  }

  /* The pools of a state, greatest first: what hangs together at one level. */
  function pools({ at, brims }) {
    const kept = new Map();
    const tree = at.tank.convex ? null : growTree(at);
    for (let k = 0; k < at.put; k++) {
      if (!(brims[k] > at.z0[k])) continue;
      const id = tree ? climb(tree, tree.nodeOf[k], brims[k]) : 0;
      const pool = kept.get(id) || { node: id, level: brims[k], volume: 0, area: 0 };
      pool.volume += at.flow[k] * phi(brims[k], at.z0[k], at.z1[k], at.z2[k]);
      pool.area += at.flow[k] * wetShare(brims[k], at.z0[k], at.z1[k], at.z2[k]);
      kept.set(id, pool);
    }
    return [...kept.values()].filter((p) => p.volume > NEGLIGIBLE * at.tank.capacity).sort((a, b) => b.volume - a.volume);
  }

  const nodeOfFace = (at, t) => (at.tank.convex ? 0 : growTree(at).node[lowestCorner(at.tree, at.tank.f, t)]);
  const poolOfFace = (at, t, brim) => (at.tank.convex ? 0 : climb(growTree(at), nodeOfFace(at, t), brim));

  return {
    makeTank, stand, grid, volumeBelow, levelOf, growTree, judge, edgeOf, reachOf, oneLevel, worstState, pools, nodeOfFace, poolOfFace, dot: dot3,
  };
})();
if (typeof module !== "undefined") module.exports = Engine;
