/* The tank in flat drawings: sections that stand upright as the machine does, and the plan of limits. */
"use strict";
const Drawings = (() => {
  const SVG = "http://www.w3.org/2000/svg";

  function make(name, attributes = {}, text = null) {
    const node = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
    if (text !== null) node.textContent = text;
    return node;
  }

  /* ---- sections ---------------------------------------------------------------------------------- */

  const LETTER = 12; // px of the names of ports

  /* A section in an svg: draw(state, rows, n, d) shows the cut n · x = d with its liquid, the ports near it, and
     faintly what lies before and behind it. What does not change is drawn once and turned. */
  function openSection(svg) {
    const parts = { wet: make("path", { class: "wet" }), beyond: make("path", { class: "beyond" }), wall: make("path", { class: "wall" }), marks: make("g") };
    parts.marks.append(make("g"), make("g"), make("g"));
    svg.replaceChildren(...Object.values(parts));
    const view = { svg, parts, wide: svg.clientWidth || 300, cuts: new Map(), tank: null };
    new ResizeObserver(() => { view.wide = svg.clientWidth || 300; if (view.last) draw(view, ...view.last); }).observe(svg);
    return { draw: (...what) => { view.last = what; draw(view, ...what); } };
  }

  /* The fixed part of one cut: its pieces, the paths of its walls and of what lies beyond, how far it reaches. */
  function cutOf(view, tank, n, d) {
    if (view.tank !== tank) { view.tank = tank; view.cuts.clear(); }
    const key = `${n} ${d}`;
    if (!view.cuts.has(key)) {
      const flat = Cuts.flat(tank, n, d), edges = Cuts.edgesAlong(tank, n), line = ([a, b, c, e]) => `M${mm(a)} ${mm(-b)}L${mm(c)} ${mm(-e)}`;
      const all = [...flat.pieces.map((p) => p.ends), ...edges];
      const reach = all.reduce((most, [a, b, c, e]) => Math.max(most, Math.hypot(a, b), Math.hypot(c, e)), 0.01 * tank.size);
      view.cuts.set(key, { flat, size: mm(1.12 * reach), walls: flat.pieces.map((p) => line(p.ends)).join(""), beyond: edges.map(line).join("") });
    }
    return view.cuts.get(key);
  }

  function draw(view, state, rows, n, d) {
    const { svg, parts } = view, fixed = cutOf(view, state.at.tank, n, d), cut = Cuts.section(state.at, fixed.flat), { size } = fixed;
    const px = (2 * size) / view.wide, room = LETTER * px * (0.5 + 1.15 * Math.min(rows.length, 3)); // names have it above
    if (view.shown !== fixed || view.room !== room) {
      Object.assign(view, { shown: fixed, room });
      svg.setAttribute("viewBox", `${-size} ${-size - room} ${2 * size} ${2 * size + room}`);
      parts.wall.setAttribute("d", fixed.walls);
      parts.beyond.setAttribute("d", fixed.beyond);
    }
    const seen = new Map(), wet = [];
    for (const column of cut.columns) {
      if (!seen.has(column.face)) seen.set(column.face, (Cuts.brimOver(state, column.face) - cut.base) / cut.steep);
      const outline = below(column, seen.get(column.face));
      if (outline.length > 2) wet.push(`M${outline.map(([s, t]) => `${mm(s)} ${mm(-t)}`).join("L")}Z`);
    }
    set(parts.wet, { d: wet.join("") });
    const transform = `rotate(${((cut.turn * 180) / Math.PI).toFixed(3)})`;
    for (const [name, wide] of [["wall", 1.7], ["beyond", 0.8]]) set(parts[name], { transform, "stroke-width": round(wide * px) });
    const top = mm(cut.walls.reduce((most, [, a, , b]) => Math.max(most, a, b), -Infinity));
    const near = rows.filter((row) => Math.abs(Engine.dot(row.port.discs[0], n) - d) < 0.25 * state.at.tank.size);
    const spots = near.map((row) => {
      const [s, t] = cut.spot(row.port.discs[0]);
      return { x: mm(s), y: -mm(t), name: row.port.name, broken: row.margin < 0 && row.port.rule !== "none" };
    });
    setNames(parts.marks, spots, top, size, px, room);
  }

  /* Marks of ports, and their names above the tank with a line to each mark, so that no name hides a port. The
     nodes stay from frame to frame: what has not changed is not written. */
  function setNames(group, spots, top, size, px, room) {
    const letter = LETTER * px, rows = [], [lines, marks, names] = group.children;
    for (const layer of group.children) while (layer.children.length > spots.length) layer.lastChild.remove();
    while (names.children.length < spots.length) {
      lines.append(make("path", { class: "leader" }));
      marks.append(make("path"));
      names.append(make("text", { "text-anchor": "middle" }));
    }
    spots.sort((a, b) => a.x - b.x).forEach(({ x, y, name, broken }, k) => {
      const told = broken ? `✗ ${name}` : name, half = 0.3 * letter * told.length, inside = Math.max(0, size - half - px);
      let row = 0, at = Math.min(inside, Math.max(-inside, x));
      while (row < rows.length && at - half < rows[row] + 0.5 * letter) row++;
      rows[row] = at + half;
      const over = Math.max(-size - room + letter, -top - (0.7 + 1.15 * row) * letter);
      set(lines.children[k], { d: `M${round(x)} ${round(y)}L${round(at)} ${round(over + 0.2 * letter)}`, "stroke-width": round(0.9 * px) });
      set(marks.children[k], { d: markAt(x, y, 4.5 * px, broken), class: broken ? "port-mark broken" : "port-mark", "stroke-width": round(2.25 * px) });
      set(names.children[k], { x: round(at), y: round(over), class: broken ? "name broken" : "name", "font-size": round(letter) });
      if (names.children[k].textContent !== told) names.children[k].textContent = told;
    });
  }

  /* A round mark for a port that keeps its rule, a square one for a port that breaks it. */
  function markAt(x, y, r, broken) {
    const [a, b, c] = [round(x - r), round(y), round(r)];
    return broken ? `M${a} ${round(y - r)}h${2 * c}v${2 * c}h${-2 * c}Z` : `M${a} ${b}a${c} ${c} 0 1 0 ${2 * c} 0a${c} ${c} 0 1 0 ${-2 * c} 0Z`;
  }

  const round = (x) => Math.round(100 * x) / 100;

  function set(node, attributes) {
    const kept = (node.kept ??= {});
    for (const [key, value] of Object.entries(attributes)) {
      if (kept[key] === value) continue;
      kept[key] = value;
      node.setAttribute(key, value);
    }
  }

  const mm = (metres) => Math.round(metres * 1e5) / 100;

  /* The part of a column below the level t, as corners. */
  function below({ s0, s1, low, high }, level) {
    const ring = [[s0, low[0]], [s1, low[1]], [s1, high[1]], [s0, high[0]]], out = [];
    ring.forEach(([s, t], k) => {
      const [s2, t2] = ring[(k + 1) % 4];
      if (t <= level) out.push([s, t]);
      if (t < level !== t2 < level && t !== t2) out.push([s + ((level - t) / (t2 - t)) * (s2 - s), level]);
    });
    return out;
  }

  /* ---- the plan ------------------------------------------------------------------------------------ */

  const RIM = 100; // of the drawing, for the steepest slope drawn

  /* Place on the plan of an up vector: its slope outwards, towards the side that is down; nose at the top. */
  function place(up, rim) {
    const flat = Math.hypot(up[0], up[1]), r = (Words.slopeOf(up) / Words.DEG / rim) * RIM;
    return flat === 0 ? [0, 0] : [(r * up[1]) / flat, (r * up[0]) / flat];
  }

  function upAt(x, y, rim) {
    const degrees = Math.min((Math.hypot(x, y) / RIM) * rim, rim), s = Math.sin(degrees * Words.DEG), long = Math.hypot(x, y) || 1;
    return [(s * y) / long, (s * x) / long, Math.cos(degrees * Words.DEG)];
  }

  const ringOf = (points) => (points.length ? `M${points.map(([x, y]) => `${x.toFixed(3)} ${y.toFixed(3)}`).join("L")}Z` : "");

  /* What is required by its name, below its outline. */
  function needName(points, told) {
    const [x, y] = points.reduce((far, at) => (at[1] > far[1] ? at : far));
    return make("text", { x, y: y + 7, "text-anchor": "middle", class: "name ring-name" }, told);
  }

  /* limits: {rim, line: [[x, y] in degrees, y towards the nose], needed: loops of up vectors, neededWords}. */
  function drawPlan(svg, limits) {
    const { rim } = limits, parts = [];
    svg.setAttribute("viewBox", "-124 -122 248 246");
    const scaled = limits.line.map(([x, y]) => [(x / rim) * RIM, (-y / rim) * RIM]);
    parts.push(make("path", { d: ringOf(scaled), class: "held" }), make("path", { d: "M-7 12V-8L0 -15L7 -8V12Z", class: "ring", style: "stroke:var(--steel)" }));
    const step = rim <= 30 ? 5 : 10;
    for (let s = step; s <= rim; s += step) {
      parts.push(make("circle", { r: (s / rim) * RIM, class: "ring" }));
      const grade = Words.rounded(100 * Math.tan(s * Words.DEG), 1, "down").toFixed(1);
      if (s % (2 * step) === 0 || s === step) {
        const y = -(s / rim) * RIM - 1;
        parts.push(make("text", { x: 1, y, class: "faint ring-name" }, `${s}° · ${grade} %`));
      }
    }
    for (let k = 0; k < 4; k++) {
      const [x, y] = [[0, -RIM], [RIM, 0], [0, RIM], [-RIM, 0]][k];
      parts.push(make("line", { x2: x, y2: y, class: "spoke" }));
    }
    [["nose down", 0, -108, "middle"], ["nose up", 0, 115, "middle"]].forEach(([t, x, y, a]) => parts.push(make("text", { x, y, "text-anchor": a, class: "rim-name" }, t)));
    [["right side down", 113, 90], ["left side down", -113, -90]].forEach(([t, x, turn]) => parts.push(make("text", { transform: `translate(${x} 0) rotate(${turn})`, "text-anchor": "middle", "dominant-baseline": "middle", class: "rim-name" }, t)));
    parts.push(make("path", { d: ringOf(scaled), class: "limit", style: "stroke-width:1.4" }));
    for (const loop of limits.needed) parts.push(make("path", { d: ringOf(loop.map((up) => place(up, rim))), class: "need", style: "stroke-width:1" }));
    if (limits.needed.length) parts.push(needName(limits.needed.flat().map((up) => place(up, rim)), limits.neededWords));
    const now = make("path", { class: "now", style: "stroke-width:1.2" }), stands = make("circle", { r: 3.2, class: "stands", style: "stroke-width:1" });
    const looked = make("circle", { r: 2.4, class: "cross", style: "stroke-width:.8", visibility: "hidden" });
    svg.replaceChildren(...parts, now, looked, stands);
    return {
      rim,
      stand(up) { const [x, y] = place(up, rim), far = Math.hypot(x, y), k = far > RIM ? RIM / far : 1; stands.setAttribute("cx", x * k); stands.setAttribute("cy", y * k); },
      look(up) {
        if (up) { const [x, y] = place(up, rim); looked.setAttribute("cx", x); looked.setAttribute("cy", y); }
        looked.setAttribute("visibility", up ? "visible" : "hidden");
      },
      sampled(ups) { now.setAttribute("d", ringOf(ups.map((up) => place(up, rim)))); },
      upOfEvent(event) {
        const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
        return upAt(at.x, at.y, rim);
      },
    };
  }

  /* ---- the bubble level -------------------------------------------------------------------------------- */

  const BUBBLE_TO = 60; // degrees at its rim

  function drawBubble(svg) {
    svg.setAttribute("viewBox", "-104 -104 208 208");
    const drop = make("circle", { r: 16, class: "drop" });
    const rings = [10, 20, 30, 45].map((s) => make("circle", { r: (s / BUBBLE_TO) * RIM, class: "ring", style: "stroke:var(--steel)" }));
    svg.replaceChildren(make("circle", { r: 100, class: "glass" }), ...rings, make("path", { d: "M-100 0H100M0 -100V100", class: "cross", style: "stroke-width:.6" }),
      ...[["nose up", 0, -80], ["nose down", 0, 90]].map(([text, x, y]) => make("text", { x, y, "text-anchor": "middle", class: "bubble-name" }, text)),
      ...[["right side down", -86, -90], ["left side down", 86, 90]].map(([text, x, turn]) => make("text", { transform: `translate(${x} 0) rotate(${turn})`, "text-anchor": "middle", "dominant-baseline": "middle", class: "bubble-name" }, text)), drop);
    return {
      stand(up) { const [x, y] = place(up, BUBBLE_TO); drop.setAttribute("cx", -x); drop.setAttribute("cy", -y); },
      upOfEvent(event) {
        const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
        return upAt(-at.x, -at.y, BUBBLE_TO);
      },
    };
  }

  return { openSection, drawPlan, drawBubble, make };
})();
