/* The tank in space, drawn by three.js where the report carries it: walls see-through, liquid, ports. */
"use strict";
const Solid = (() => {
  const WALL = 0x8d98a2, LIQUID = 0x2f7dbd, KEPT = 0x2b9a58, BROKEN = 0xd93a30;
  const COARSE = 0.6, STILL = 150; // of the pixels each way while it moves and the processor draws; ms until all of them
  let slow = false; // drawn by the processor: edges are then left unsmoothed

  /* Whether the browser can draw it at all; asked first, since three.js complains aloud. */
  function possible() {
    if (typeof THREE === "undefined") return false;
    const canvas = document.createElement("canvas");
    const context = canvas.getContext("webgl2") || canvas.getContext("webgl");
    slow = Boolean(context) && /swiftshader|llvmpipe|software/i.test(nameOf(context));
    if (context && context.getExtension("WEBGL_lose_context")) context.getExtension("WEBGL_lose_context").loseContext();
    return Boolean(context);
  }

  function nameOf(context) {
    const told = context.getExtension("WEBGL_debug_renderer_info");
    return String(context.getParameter(told ? told.UNMASKED_RENDERER_WEBGL : context.RENDERER));
  }

  /* Build the view in `frame`; returns {tank(tank), draw(state, rows), turn(yaw, lift)}. */
  function open(frame) {
    const renderer = new THREE.WebGLRenderer({ antialias: !slow, alpha: true });
    frame.prepend(renderer.domElement);
    const scene = new THREE.Scene(), camera = new THREE.PerspectiveCamera(30, 1, 0.01, 100), machine = new THREE.Group();
    camera.up.set(0, 0, 1);
    scene.add(machine, new THREE.AmbientLight(0xffffff, 0.75));
    const lamp = new THREE.DirectionalLight(0xffffff, 0.6);
    lamp.position.set(2, -3, 5);
    scene.add(lamp);
    const lines = frame.appendChild(Drawings.make("svg", { class: "leaders", "aria-hidden": "true" }));
    const view = { renderer, scene, camera, machine, frame, lines, yaw: -0.75, lift: 0.38, tags: [], wide: 0, high: 0, seen: true, ratio: slow ? 1 : Math.min(window.devicePixelRatio, 2) };
    turning(view);
    new ResizeObserver(() => { // asked here only: in a frame it would have the page laid out in between
      view.wide = frame.clientWidth;
      view.high = renderer.domElement.clientHeight;
      paint(view);
    }).observe(frame);
    new IntersectionObserver(([seen]) => { // scrolled out of sight it costs nothing
      view.seen = seen.isIntersecting;
      if (view.seen && view.missed) draw(view, ...view.missed);
    }).observe(frame);
    return {
      tank: (tank) => setTank(view, tank),
      draw: (state, rows) => draw(view, state, rows),
      turn: (yaw, lift) => { view.yaw += yaw; view.lift = Math.min(1.5, Math.max(-0.6, view.lift + lift)); paint(view); },
    };
  }

  function setTank(view, tank) {
    view.machine.clear();
    view.tank = tank;
    const shape = new THREE.BufferGeometry();
    shape.setAttribute("position", new THREE.BufferAttribute(Float32Array.from(tank.v), 3));
    shape.setIndex(new THREE.BufferAttribute(Uint32Array.from(tank.f), 1));
    const walls = new THREE.Mesh(shape, glass(WALL, 0.1));
    const edges = new THREE.LineSegments(new THREE.EdgesGeometry(shape, 25), new THREE.LineBasicMaterial({ color: WALL }));
    const most = new Float32Array(tank.faceCount * 18 + 9);
    view.wet = new THREE.BufferGeometry();
    view.wet.setAttribute("position", new THREE.BufferAttribute(most, 3).setUsage(THREE.DynamicDrawUsage));
    const liquid = new THREE.Mesh(view.wet, glass(LIQUID, 0.35));
    view.top = new THREE.BufferGeometry();
    const surface = new THREE.Mesh(view.top, glass(LIQUID, 0.75));
    liquid.frustumCulled = surface.frustumCulled = false;
    view.ports = new THREE.Group();
    [walls, liquid, surface].forEach((one, k) => { one.renderOrder = k + 1; });
    view.machine.add(walls, liquid, surface, edges, view.ports);
  }

  /* See-through from both sides. Blended without being called transparent: three.js would draw it twice, the far
     side and the near side, and make its program anew for each. */
  function glass(color, opacity) {
    return new THREE.MeshBasicMaterial({
      color, opacity, depthWrite: false, side: THREE.DoubleSide, blending: THREE.CustomBlending,
      blendSrcAlpha: THREE.OneFactor, blendDstAlpha: THREE.OneMinusSrcAlphaFactor,
    });
  }

  /* The wet part of every face: below the brim of its pool. */
  function wetFaces({ at, over }, out) {
    const { tank, z } = at, { v, f } = tank;
    let put = 0;
    const corner = (i) => { out[put++] = v[3 * i]; out[put++] = v[3 * i + 1]; out[put++] = v[3 * i + 2]; };
    const between = (i, j, h) => {
      const w = (h - z[i]) / (z[j] - z[i]);
      for (let c = 0; c < 3; c++) out[put++] = v[3 * i + c] + w * (v[3 * j + c] - v[3 * i + c]);
    };
    for (let q = 0; q < tank.faceCount; q++) {
      let [i, j, k] = [f[3 * q], f[3 * q + 1], f[3 * q + 2]];
      if (z[j] < z[i]) [i, j] = [j, i];
      if (z[k] < z[i]) [i, k] = [k, i];
      if (z[k] < z[j]) [j, k] = [k, j];
      const h = over(Engine.nodeOfFace(at, q), z[i]);
      if (h <= z[i]) continue;
      if (h >= z[k]) { corner(i); corner(j); corner(k); }
      else if (h <= z[j]) { corner(i); between(i, j, h); between(i, k, h); }
      else { corner(i); corner(j); between(j, k, h); corner(i); between(j, k, h); between(i, k, h); }
    }
    return put / 3;
  }

  function draw(view, state, rows) {
    view.missed = view.seen ? null : [state, rows];
    if (!view.seen) return;
    const position = view.wet.getAttribute("position");
    view.wet.setDrawRange(0, wetFaces(state, position.array));
    position.needsUpdate = true;
    view.top.setAttribute("position", new THREE.BufferAttribute(Float32Array.from(Cuts.surface(state)), 3));
    view.machine.quaternion.setFromUnitVectors(new THREE.Vector3(...state.at.up), new THREE.Vector3(0, 0, 1));
    mark(view, rows);
    move(view);
  }

  /* One frame of a movement; drawn by the processor it is coarse until all stands still. */
  function move(view) {
    if (!slow) { paint(view); return; }
    paint(view, COARSE);
    clearTimeout(view.still);
    view.still = setTimeout(() => paint(view), STILL);
  }

  /* A ball at each port with its name beside it, and a word at the nose. */
  function mark(view, rows) {
    const { tank } = view, ahead = [0, 1, 2].map((c) => (c === 0 ? Math.max : Math.min)(...cornersOf(tank, c)));
    const spots = rows.map((row) => ({ at: row.port.discs[0].slice(0, 3), name: row.port.name, broken: row.port.rule !== "none" && row.margin < 0, how: row.port.rule === "wet" && row.state === "covered" ? "short of its cover" : "broken" }));
    spots.push({ at: [ahead[0], 0, ahead[2]], name: "nose", plain: true });
    while (view.ports.children.length < spots.length) view.ports.add(new THREE.Mesh(new THREE.SphereGeometry(0.022 * tank.size, 16, 12), new THREE.MeshBasicMaterial({ depthTest: false })));
    while (view.tags.length < spots.length) {
      const tag = view.frame.appendChild(document.createElement("span"));
      view.tags.push({ tag, line: view.lines.appendChild(Drawings.make("line", { class: "leader" })) });
    }
    spots.forEach(({ at, name, broken, how, plain }, k) => {
      const ball = view.ports.children[k];
      ball.position.set(...at);
      ball.visible = !plain;
      ball.renderOrder = 4; // seen through walls and liquid
      ball.material.color.setHex(broken ? BROKEN : KEPT);
      const { tag, line } = view.tags[k], text = broken ? `✗ ${name}: ${how}` : name;
      line.style.visibility = plain ? "hidden" : "visible";
      if (tag.textContent === text) return;
      tag.textContent = text;
      tag.className = broken ? "tag broken" : "tag";
    });
  }

  const cornersOf = (tank, c) => (tank.ends ??= [0, 1, 2].map((axis) => {
    let low = Infinity, high = -Infinity;
    for (let k = axis; k < tank.v.length; k += 3) { low = Math.min(low, tank.v[k]); high = Math.max(high, tank.v[k]); }
    return [low, high];
  }))[c];

  function paint(view, part = 1) {
    if (!view.tank) return;
    const { renderer, camera, wide, high } = view;
    if (!wide || !high) return;
    const ratio = part * view.ratio;
    if (renderer.getPixelRatio() !== ratio) renderer.setPixelRatio(ratio);
    if (renderer.domElement.width !== Math.floor(wide * ratio) || renderer.domElement.height !== Math.floor(high * ratio)) renderer.setSize(wide, high, false);
    camera.aspect = wide / high;
    const far = (1.02 * view.tank.size) / Math.min(1, camera.aspect) / Math.sin(15 * Words.DEG);
    camera.position.set(far * Math.cos(view.lift) * Math.cos(view.yaw), far * Math.cos(view.lift) * Math.sin(view.yaw), far * Math.sin(view.lift));
    camera.lookAt(0, 0, 0);
    camera.updateProjectionMatrix();
    renderer.render(view.scene, camera);
    const taken = [];
    view.ports.children.forEach((ball, k) => {
      const at = ball.getWorldPosition(new THREE.Vector3()).project(camera), { tag, line } = view.tags[k];
      const [x, y] = [Math.round((0.5 + 0.5 * at.x) * wide), Math.round((0.5 - 0.5 * at.y) * high)];
      let [left, top] = [Math.min(wide - 60, Math.max(60, x)), ball.visible ? y - 44 : y];
      while (taken.some((t) => Math.abs(t[0] - left) < 115 && Math.abs(t[1] - top) < 24)) top -= 24;
      top = Math.max(12, top);
      taken.push([left, top]);
      tag.style.transform = `translate(${left}px, ${top}px) translate(-50%, -50%)`;
      for (const [key, value] of [["x1", x], ["y1", y], ["x2", left], ["y2", top]]) line.setAttribute(key, value);
    });
  }

  /* A drag turns the view; the wheel is left to the page. */
  function turning(view) {
    const canvas = view.renderer.domElement;
    let from = null;
    canvas.addEventListener("pointerdown", (e) => { from = [e.clientX, e.clientY]; canvas.setPointerCapture(e.pointerId); });
    canvas.addEventListener("pointerup", () => { from = null; });
    canvas.addEventListener("pointercancel", () => { from = null; });
    canvas.addEventListener("pointermove", (e) => {
      if (!from) return;
      view.yaw -= (e.clientX - from[0]) * 0.008;
      view.lift = Math.min(1.5, Math.max(-0.6, view.lift + (e.clientY - from[1]) * 0.008));
      from = [e.clientX, e.clientY];
      requestAnimationFrame(() => move(view));
    });
  }

  return { possible, open };
})();
