/* The controls of the report: attitude, fill, what is shown; the numbers come from engine.js. */
"use strict";
const Page = (() => {
  const $ = (id) => document.getElementById(id);
  const data = JSON.parse($("data").textContent);
  const STEEPEST = 75; // degrees that the bench tilts to
  const bench = { up: [0, 0, 1], fill: null, pick: null, found: null, stale: false };
  let solid = null, plan = null, bubble = null, side = null, front = null;
  const SIDE = [0, -1, 0], FRONT = [1, 0, 0];

  /* ---- state ---------------------------------------------------------------------------------------- */

  function start() {
    Words.setUnits(data.units);
    bench.given = { tank: data.tank, ports: data.liquid.ports };
    bench.fill = { least: data.liquid.least, most: data.liquid.most };
    if (Solid.possible()) solid = Solid.open($("solid"));
    else { $("solid").hidden = true; $("turn").hidden = true; }
    [side, front] = ["side", "front"].map((id) => Drawings.openSection($(id)));
    bubble = Drawings.drawBubble($("bubble"));
    plan = Drawings.drawPlan($("plan"), data.limits);
    takeTank(data.tank, data.liquid.ports);
    wire();
    setAttitude([0, 0, 1]);
    setTimeout(showWorst, 400);
  }

  function takeTank(mesh, ports) {
    bench.tank = Engine.makeTank(mesh);
    bench.corner = mesh.corner;
    bench.level = Engine.stand(bench.tank, [0, 0, 1]);
    bench.ports = ports;
    if (solid) solid.tank(bench.tank);
    $("stands").hidden = bench.tank.convex;
    setFillRange();
    fillShown();
  }

  function setAttitude(up) {
    const slope = Words.slopeOf(up) / Words.DEG;
    if (slope > STEEPEST) {
      const k = Math.sin(STEEPEST * Words.DEG) / Math.hypot(up[0], up[1]);
      up = [up[0] * k, up[1] * k, Math.cos(STEEPEST * Words.DEG)];
    }
    bench.up = up;
    soon();
  }

  /* One drawing a frame, however many events came. */
  function soon() {
    if (bench.stale) return;
    bench.stale = true;
    requestAnimationFrame(refresh);
  }

  function refresh() {
    bench.stale = false;
    const found = Engine.judge(bench.tank, bench.ports, bench.up, bench.fill, data.pickups);
    bench.found = found;
    const row = shownRow(), state = stateShown(row);
    bench.state = state;
    tellHere();
    tellPorts(row);
    tellPools(state, row);
    drawViews(state, row);
    setDials();
    clearTimeout(bench.later);
    bench.later = setTimeout(tellCarried, 250);
  }

  /* Whose worst state is shown: the port picked, or the worst one; none shows one level. */
  function shownRow() {
    const { rows, worst } = bench.found;
    if (bench.pick === "one level") return null;
    return rows.find((r) => r.port.name === bench.pick && r.port.rule !== "none") || worst;
  }

  function levelFor(row) { return bench.found.levels[row && row.port.rule === "dry" ? "dry" : "wet"]; }

  function stateShown(row) {
    const { at } = bench.found;
    return row ? Engine.worstState(at, row, levelFor(row), bench.fill.least) : Engine.oneLevel(at, bench.found.levels.wet);
  }

  /* ---- words ------------------------------------------------------------------------------------------ */

  /* Only what has changed is written: a page that is laid out anew for nothing drags behind the finger. */
  const put = (node, text) => { if (node.textContent !== text) node.textContent = text; };

  function tellHere() {
    const { worst } = bench.found, kept = worst && worst.margin >= 0;
    const at = `${worst ? signOf(kept) : ""}At ${Words.slope(Words.slopeOf(bench.up))}, ${Words.sides(bench.up)}: `;
    for (const id of ["here", "short"]) {
      $(id).classList.toggle("yes", Boolean(kept));
      $(id).classList.toggle("no", Boolean(worst) && !kept);
    }
    put($("here"), at + (worst ? verdictWords(bench.found) : "no port has a rule to keep.") + markWords());
    put($("short"), worst ? `${signOf(kept)}${worst.port.name}: ${kept ? `kept, ${marginTold(worst)} to spare` : isThin(worst) ? "too little over it" : "rule broken"} at ${Words.slope(Words.slopeOf(bench.up))}` : "");
  }

  const signOf = (kept) => (kept ? "✓ " : "✗ ");

  /* A fill outside the marks may be kept here and not all over what is required. */
  function markWords() {
    const { least, most } = data.marks || {}, hair = 1e-9;
    if (least > 0 && bench.fill.least < least - hair) return " Below the least mark: not enough for all that is required.";
    if (most > 0 && bench.fill.most > most + hair) return " Above the most mark: too much for all that is required.";
    return "";
  }

  function verdictWords({ worst, rows, single }) {
    if (worst.margin >= 0) return `every rule is kept whatever the machine did before; ${worst.port.name} by the least, ${Words.told(worst.margin, "length", "down")}.`;
    const more = rows.filter((r) => r.port.rule !== "none" && r.margin < 0 && r !== worst).length;
    const short = Number.isFinite(worst.margin) ? `by ${Words.told(-worst.margin, "length", "up")}` : "";
    const how = isThin(worst) ? thinWords(worst) : worst.state;
    const leaves = single[worst.port.rule] ? `${worst.port.name} is` : `some route leaves ${worst.port.name}`;
    return `${leaves} ${how}: rule broken${isThin(worst) ? "" : ` ${short}`}${more && data.pickups !== "any" ? `; ${more} more may be broken` : ""}.`;
  }

  /* Still under liquid, with less over it than is asked for: not yet drawing air. */
  const isThin = (row) => row.port.rule === "wet" && row.margin < 0 && row.state === "covered";
  const thinWords = ({ margin, port }) => `${Words.told(-margin, "length", "up")} short of its cover of ${Words.told(port.cover, "length")}; still ${Words.told(port.cover + margin, "length", "down")} under`;

  const marginTold = (row) => (Number.isFinite(row.margin) ? Words.told(row.margin, "length", "down") : "no liquid below it");

  /* The words of a port's row: name, state, margin, rule. */
  function portCells(row) {
    const ruled = row.port.rule !== "none", kept = row.margin >= 0;
    const rule = ruled ? `${Words.RULES[row.port.rule]}: ${signOf(kept)}${kept ? "kept" : isThin(row) ? "short of its cover" : "broken"}` : Words.RULES.none;
    return [row.port.name, row.state, marginTold(row), rule];
  }

  function tellPorts(shown) {
    const body = $("ports");
    if (body.children.length !== bench.ports.length) body.replaceChildren(...bench.found.rows.map(portRow));
    bench.found.rows.forEach((row, k) => {
      const tr = body.children[k], told = portCells(row);
      told.forEach((text, c) => put(tr.children[c], text));
      const name = row.port.rule === "none" ? "state" : `state ${row.margin >= 0 ? "kept" : "broken"}`;
      if (tr.children[3].className !== name) tr.children[3].className = name;
      if (tr.getAttribute("aria-selected") !== String(shown === row)) tr.setAttribute("aria-selected", String(shown === row));
    });
  }

  function portRow(row) {
    const tr = document.createElement("tr");
    tr.append(...["td", "td", "td", "td"].map((t) => document.createElement(t)));
    tr.children[2].className = "number";
    if (row.port.rule !== "none") {
      tr.className = "pick";
      tr.tabIndex = 0;
      const pick = () => { bench.pick = row.port.name; $("shown").value = row.port.name; soon(); };
      tr.addEventListener("click", pick);
      tr.addEventListener("keydown", (e) => { if (e.key === "Enter" || e.key === " ") { e.preventDefault(); pick(); } });
    }
    return tr;
  }

  function tellPools(state, row) {
    const pools = Engine.pools(state), parted = !bench.tank.convex;
    bench.pools = pools;
    put($("pools-told"), `${!parted ? "One surface: no wall parts the liquid"
      : row && bench.found.single[row.port.rule] ? "One surface is certain here, whatever the machine did before"
      : !row ? "Liquid that has run everywhere it could: one level through the tank"
        : row.port.rule === "dry" ? `The highest that liquid can stand at ${row.port.name}: its own pool`
          : state.elsewhere ? `Other hollows can hold all of the liquid: none is left at ${row.port.name}`
            : `The lowest that liquid can stand at ${row.port.name}: every other hollow full to its brim`}. Surface: straight up from the rear right corner of the floor; minus is below it.`);
    const body = $("pools");
    while (body.children.length > pools.length) body.lastChild.remove();
    while (body.children.length < pools.length) {
      const tr = body.appendChild(document.createElement("tr"));
      for (const side of ["", "number", "number"]) tr.appendChild(document.createElement("td")).className = side;
    }
    pools.forEach((pool, k) => {
      const level = Words.told(pool.level - Engine.dot(bench.up, bench.corner), "length");
      [String(k + 1), Words.told(pool.volume, "volume"), level].forEach((text, c) => put(body.children[k].children[c], text));
    });
    $("stands").style.visibility = "hidden"; // till it is tried for the new attitude
  }

  /* Carried straight from level ground: told only where the liquid hangs together all the way. */
  function tellCarried() {
    if (bench.tank.convex || !bench.found) return;
    $("stands").style.visibility = "visible";
    const slope = Words.slopeOf(bench.up), flat = Math.hypot(bench.up[0], bench.up[1]) || 1, STEPS = 16;
    for (let k = 0; k <= STEPS; k++) {
      const s = (slope * k) / STEPS, up = [(Math.sin(s) * bench.up[0]) / flat, (Math.sin(s) * bench.up[1]) / flat, Math.cos(s)];
      const at = Engine.stand(bench.tank, up);
      if (Engine.pools(Engine.oneLevel(at, Engine.levelOf(at, bench.fill.least))).length > 1) {
        bench.carried = null;
        $("stands").textContent = "Walls part the liquid on the way from level ground to here: where it stands depends on the route, and told is the worst of any.";
        return;
      }
    }
    bench.carried = bench.found.levels.wet;
    $("stands").textContent = `Carried straight from level ground, the liquid stands at one level: ${Words.told(bench.carried - Engine.dot(bench.up, bench.corner), "length")} along up from the corner of rear wall, right wall and floor (tried at ${STEPS + 1} attitudes on the way).`;
  }

  /* ---- drawings ------------------------------------------------------------------------------------------ */

  function drawViews(state, row) {
    const port = row || bench.found.worst || bench.found.rows[0];
    for (const node of throughs) put(node, port ? port.port.name : "the middle");
    put($("drawn"), drawnWords(row, bench.fill));
    drawCuts(side, front, state, bench.found.rows, port);
    if (solid) solid.draw(state, bench.found.rows);
    bubble.stand(bench.up);
    plan.stand(bench.up);
  }

  function drawCuts(along, across, state, rows, port) {
    const through = port ? port.port.discs[0] : [0, 0, 0];
    along.draw(state, rows, SIDE, -through[1]);
    across.draw(state, rows, FRONT, through[0]);
  }

  const throughs = document.getElementsByClassName("through");

  /* For print: the tank as given at its limit in the worst heading, whatever is on the bench. */
  function showWorst() {
    const up = data.limits.worst, tank = Engine.makeTank(bench.given.tank), found = Engine.judge(tank, bench.given.ports, up, data.liquid, data.pickups);
    if (!found.worst || Words.slopeOf(up) === 0) return; // nothing has a limit, or it is broken on level ground
    const level = found.levels[found.worst.port.rule === "dry" ? "dry" : "wet"], state = Engine.worstState(found.at, found.worst, level, data.liquid.least);
    $("at-worst").hidden = false;
    put($("worst-told"), `${signOf(found.worst.margin >= 0)}At ${Words.slope(Words.slopeOf(up))}, ${Words.sides(up)}, ${fillWords(data.liquid)}: ${verdictWords(found)} ${drawnWords(found.worst, data.liquid)}`);
    drawCuts(Drawings.openSection($("worst-side")), Drawings.openSection($("worst-front")), state, found.rows, found.worst);
    $("worst-ports").replaceChildren(...found.rows.map((row) => {
      const tr = document.createElement("tr");
      portCells(row).forEach((text, k) => { const td = tr.appendChild(document.createElement("td")); td.textContent = text; td.className = k === 2 ? "number" : ""; });
      return tr;
    }));
  }

  function setDials() {
    const [p, r] = Words.readings(bench.up);
    $("pitch").value = p; $("roll").value = r;
    put($("pitch-told"), Words.pitch(p)); put($("roll-told"), Words.roll(r));
    $("pitch").setAttribute("aria-valuetext", Words.pitch(p)); $("roll").setAttribute("aria-valuetext", Words.roll(r));
  }

  /* ---- liquid ---------------------------------------------------------------------------------------------- */

  function setFillRange() {
    const slider = $("fill"), capacity = bench.tank.capacity;
    slider.min = 0.005 * capacity;
    slider.max = capacity;
    const given = data.liquid;
    $("given").textContent = `As given: ${fillWords({ least: given.least, most: given.most })}`;
    const ticks = [["least mark", data.marks && data.marks.least], ["most mark", data.marks && data.marks.most]].filter(([, v]) => v > 0 && v <= capacity);
    $("ticks").replaceChildren(...ticks.map(([name, v], k) => {
      const tick = document.createElement("span");
      tick.textContent = `${name} ${Words.told(v, "volume", k ? "down" : "up")}`;
      tick.style.setProperty("--at", `${(100 * (v - slider.min)) / (slider.max - slider.min)}%`);
      return tick;
    }));
    $("ticks").hidden = !ticks.length;
    if (bench.fill.most > capacity) bench.fill = { least: Math.min(bench.fill.least, capacity), most: capacity };
  }

  const fillWords = (fill) => (fill.least === fill.most ? Words.told(fill.least, "volume") : `${Words.told(fill.least, "volume")} to ${Words.told(fill.most, "volume")}`);

  function fillShown() {
    const { least, most } = bench.fill, given = least === data.liquid.least && most === data.liquid.most;
    $("fill").value = least;
    $("fill-told").textContent = fillWords(bench.fill);
    $("fill").setAttribute("aria-valuetext", fillWords(bench.fill));
    $("given").setAttribute("aria-pressed", String(given));
    $("fill-hint").textContent = least === most ? "One amount for all ports." : "What must stay wet is judged at the least, what must stay dry at the most.";
    put($("dip-told"), dipWords());
    bench.asGiven = given && !bench.edited;
    sampleLimits();
  }

  /* What a dipstick says standing level, where one level runs through the whole tank. */
  function dipWords() {
    const at = bench.level, { least, most } = bench.fill, levels = [least, most].map((fill) => Engine.levelOf(at, fill));
    if (levels.some((level) => Engine.pools(Engine.oneLevel(at, level)).length > 1)) return "Standing level, walls part this much liquid: no single dip tells it.";
    const [low, high] = levels.map((level, k) => Words.told(level - at.low, "length", wayOf([least, most][k])));
    return `Standing level: a dip of ${low === high ? low : `${low} to ${high}`} from the lowest point.`;
  }

  /* A fill that is told as a mark is has the mark's dip: rounded up at the least, down at the most. */
  function wayOf(fill) {
    const { least, most } = data.marks || {}, shown = Words.told(fill, "volume");
    if (least > 0 && shown === Words.told(least, "volume", "up")) return "up";
    return most > 0 && shown === Words.told(most, "volume", "down") ? "down" : "nearest";
  }

  /* Which amount the pictures show: the one at which the port they show is judged. */
  function drawnWords(row, fill) {
    const dry = row && row.port.rule === "dry", one = fill.least === fill.most;
    const end = one ? "" : dry ? ", the most" : ", the least";
    return `Drawn: ${Words.told(dry ? fill.most : fill.least, "volume")}${end}${row ? `, as it is worst for ${row.port.name}` : ", at one level"}.`;
  }

  function setFill(least, most = least) {
    bench.fill = { least: Math.max(least, 1e-6 * bench.tank.capacity), most: Math.min(most, bench.tank.capacity) };
    fillShown();
    soon();
  }

  /* ---- limits of what is on the bench, where that is not the tank as given -------------------------------- */

  const HEADINGS = 48, STEP = 3;

  function sampleLimits() {
    clearTimeout(bench.sampling);
    const told = $("key-now");
    told.hidden = bench.asGiven;
    plan.sampled([]);
    bench.sampled = null;
    if (bench.asGiven) return;
    const ups = [], tank = bench.tank;
    const next = () => {
      if (bench.tank !== tank) return;
      const until = performance.now() + 12;
      while (ups.length < HEADINGS && performance.now() < until) ups.push(limitOn((2 * Math.PI * ups.length) / HEADINGS));
      if (ups.length < HEADINGS) { bench.sampling = setTimeout(next, 0); return; }
      bench.sampled = ups;
      plan.sampled(ups);
    };
    bench.sampling = setTimeout(next, 300);
  }

  /* The first slope on a heading at which a rule breaks, from samples 3° apart. */
  function limitOn(heading) {
    const rim = data.limits.rim, upAt = (s) => [Math.sin(s * Words.DEG) * Math.cos(heading), Math.sin(s * Words.DEG) * Math.sin(heading), Math.cos(s * Words.DEG)];
    const margin = (s) => { const { worst } = Engine.judge(bench.tank, bench.ports, upAt(s), bench.fill, data.pickups); return worst ? worst.margin : 1; };
    let low = 0;
    if (margin(0) < 0) return upAt(0);
    while (low < rim && margin(Math.min(low + STEP, rim)) >= 0) low += STEP;
    if (low >= rim) return upAt(rim);
    let high = Math.min(low + STEP, rim);
    while (high - low > 0.05) { const mid = 0.5 * (low + high); if (margin(mid) >= 0) low = mid; else high = mid; }
    return upAt(low);
  }

  /* ---- events ------------------------------------------------------------------------------------------------ */

  function wire() {
    for (const id of ["pitch", "roll"]) $(id).addEventListener("input", () => setAttitude(within(Number($("pitch").value), Number($("roll").value))));
    $("fill").addEventListener("input", () => setFill(Number($("fill").value)));
    $("given").addEventListener("click", () => setFill(data.liquid.least, data.liquid.most));
    $("level").addEventListener("click", () => setAttitude([0, 0, 1]));
    $("worst").addEventListener("click", () => setAttitude(data.limits.worst));
    for (const id of ["bubble", "plan"]) $(id).addEventListener("keydown", byKey);
    dragging($("bubble"), (e) => setAttitude(bubble.upOfEvent(e)));
    dragging($("plan"), (e) => setAttitude(plan.upOfEvent(e)));
    $("plan").addEventListener("pointermove", look);
    $("plan").addEventListener("pointerleave", () => plan.look(null));
    $("shown").replaceChildren(...[["", "the worst state of the worst port"], ...bench.ports.filter((p) => p.rule !== "none").map((p) => [p.name, `the worst state for ${p.name}`]), ["one level", "one level through the tank"]].map(([value, text]) => {
      const option = document.createElement("option");
      option.value = value; option.textContent = text;
      return option;
    }));
    $("shown").closest("p").hidden = bench.tank.convex;
    $("shown").addEventListener("change", () => { bench.pick = $("shown").value || null; soon(); });
    window.addEventListener("beforeprint", () => { for (const d of document.querySelectorAll("details:not(#editor)")) d.open = true; });
    Sensor.offer($("sensor"), $("sensor-told"), setAttitude);
    if (data.editable) Editor.open(data, { form: $("form"), told: $("form-told"), frame: $("editor"), undo: $("undo") }, takeEdited);
  }

  /* Two readings that exist together: where they do not, both are taken back in proportion. */
  function within(p, r) {
    const x = Math.sin(p * Words.DEG), y = Math.sin(r * Words.DEG), most = Math.sin(STEEPEST * Words.DEG), k = Math.min(1, most / Math.hypot(x, y) || 1);
    return [x * k, y * k, Math.sqrt(1 - k * k * (x * x + y * y))];
  }

  function byKey(event) {
    // an arrow moves what has the focus: the bubble, which goes to the high side, or the dot on the plan
    const by = (event.shiftKey ? 5 : 1) * (event.currentTarget.id === "bubble" ? -1 : 1), [p, r] = Words.readings(bench.up);
    const move = { ArrowUp: [-by, 0], ArrowDown: [by, 0], ArrowLeft: [0, -by], ArrowRight: [0, by] }[event.key];
    if (event.key === "Home") setAttitude([0, 0, 1]);
    else if (move) setAttitude(within(p + move[0], r + move[1]));
    else return;
    event.preventDefault();
  }

  function dragging(node, move) {
    let on = false;
    node.addEventListener("pointerdown", (e) => { on = true; node.setPointerCapture(e.pointerId); move(e); });
    node.addEventListener("pointermove", (e) => { if (on) move(e); });
    for (const end of ["pointerup", "pointercancel"]) node.addEventListener(end, () => { on = false; });
  }

  /* What lies under the pointer, once a frame however often it moves. */
  function look(event) {
    const waiting = bench.looking;
    bench.looking = plan.upOfEvent(event);
    if (!waiting) requestAnimationFrame(tellLooked);
  }

  function tellLooked() {
    const up = bench.looking, found = Engine.judge(bench.tank, bench.ports, up, bench.fill, data.pickups);
    bench.looking = null;
    plan.look(up);
    bench.looked = { up, found };
    $("looked").textContent = `${Words.slope(Words.slopeOf(up))}, ${Words.sides(up)}: ${found.worst ? verdictWords(found) : ""}`;
    $("looked-ports").replaceChildren(...found.rows.map((row) => {
      const tr = document.createElement("tr");
      [row.port.name, row.state, marginTold(row)].forEach((text) => { tr.appendChild(document.createElement("td")).textContent = text; });
      return tr;
    }));
  }

  function takeEdited(mesh, ports, words) {
    bench.edited = Boolean(words);
    $("edited").hidden = !words;
    $("edited").textContent = words ? `Changed in this page: ${words}. Everything below the bench still tells of the tank as given; limits of the changed one are sampled, without a bound.` : "";
    takeTank(mesh, ports);
    soon();
  }

  document.addEventListener("DOMContentLoaded", start);
  return { bench, data, setAttitude, setFill, refresh, look };
})();
