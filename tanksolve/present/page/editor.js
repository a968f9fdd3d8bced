/* Sizes and ports of a box or a cylinder, changed in the page: the mesh is stretched along its own axes. */
"use strict";
const Editor = (() => {
  const SIDES = ["from the rear wall", "from the right wall", "above the floor"];

  /* nodes: {form, told, frame, undo}; take(mesh, ports, words) gets the changed tank, words "" for the given. */
  function open(data, nodes, take) {
    const given = data.tank, size = [0, 1, 2].map((c) => given.span[1][c] - given.span[0][c]), unit = Words.unit("length");
    const fields = [];
    const number = (label, value, least) => {
      const node = document.createElement("label"), input = document.createElement("input");
      node.textContent = `${label}, ${unit.symbol}`;
      Object.assign(input, { type: "number", step: "any", required: true, value: Words.rounded(value / unit.size, unit.digits + 1) });
      if (least !== undefined) input.min = least;
      node.append(input);
      nodes.form.append(node);
      fields.push(input);
      return () => Number(input.value) * unit.size;
    };
    const across = data.editable.shape === "cylinder" ? [0, 1, 2].filter((c) => c !== data.editable.axis) : null;
    const sizes = across
      ? [["diameter", size[across[0]]], ["length", size[data.editable.axis]]].map(([l, v]) => number(l, v, 0))
      : ["length", "width", "height"].map((l, c) => number(l, size[c], 0));
    const ports = data.liquid.ports.map((port) => ({
      at: SIDES.map((side, c) => number(`${port.name} ${side}`, port.discs[0][c] - given.corner[c])),
      bore: port.bore === null ? null : number(`${port.name} bore`, port.bore, 0),
      cover: number(`${port.name} ${port.rule === "dry" ? "clearance" : "cover"}`, port.cover, 0),
      port,
    }));
    const first = fields.map((f) => f.value);
    nodes.frame.hidden = false;
    nodes.form.addEventListener("submit", (e) => e.preventDefault());
    nodes.form.addEventListener("change", () => {
      const wrong = change();
      nodes.told.hidden = !wrong;
      nodes.told.textContent = wrong || "";
    });
    nodes.undo.addEventListener("click", () => { fields.forEach((f, k) => { f.value = first[k]; }); nodes.told.hidden = true; take(given, data.liquid.ports, ""); });

    function change() {
      if (fields.some((f) => !f.checkValidity() || f.value === "")) return "A figure is missing or below nought: nothing was changed.";
      let wanted = sizes.map((read) => read());
      if (wanted.some((w) => !(w > 0))) return "A size must be above nought: nothing was changed.";
      if (across) { const [d, l] = wanted; wanted = [0, 1, 2].map((c) => (c === data.editable.axis ? l : d)); }
      const mesh = stretched(given, size, wanted);
      const moved = ports.map((p) => movedPort(p, mesh, given, size, wanted));
      const out = moved.find((p) => !inside(p.discs[0], mesh, data.editable));
      if (out) return `${out.name} is outside the tank: nothing was changed.`;
      const words = fields.some((f, k) => f.value !== first[k]);
      take(mesh, moved, words ? wanted.map((w) => Words.told(w, "length")).join(" x ") : "");
      return "";
    }
  }

  /* The mesh with other sizes, its rear right bottom corner where it was; the origin moves to its middle. */
  function stretched(given, size, wanted) {
    const half = wanted.map((w) => 0.5 * w), vertices = given.vertices.map((x, k) => (x * wanted[k % 3]) / size[k % 3]);
    return { ...given, vertices, corner: half.map((h) => -h), span: [half.map((h) => -h), half] };
  }

  function movedPort({ at, bore, cover, port }, mesh) {
    const place = at.map((read, c) => read() + mesh.corner[c]), wide = bore ? bore() : null;
    const shift = place.map((x, c) => x - port.discs[0][c]);
    const discs = port.discs.map((d) => [...d.slice(0, 3).map((x, c) => x + shift[c]), ...d.slice(3, 6), d[6] > 0 && wide ? wide / 2 : d[6], d[7] > 0 && wide ? wide / 2 : d[7]]);
    return { ...port, bore: wide, cover: cover(), discs };
  }

  function inside(p, mesh, { shape, axis }) {
    const hair = 1e-9, half = mesh.span[1];
    if ([0, 1, 2].some((c) => Math.abs(p[c]) > half[c] + hair)) return false;
    if (shape !== "cylinder") return true;
    const [a, b] = [0, 1, 2].filter((c) => c !== axis);
    return Math.hypot(p[a] / half[a], p[b] / half[b]) <= 1 + 1e-6;
  }

  return { open };
})();
