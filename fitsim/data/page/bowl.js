"use strict";
// The bowl in space on a plain canvas, and the section with its handles. Every place drawn was calculated:
// between two states of the strip a corner goes along the straight line from one to the other.

const TONES = [[253, 245, 227], [236, 192, 128], [187, 106, 44], [110, 44, 21], [28, 9, 6]]; // as on the printed strip
const STEEPEST = 1.52, FIRST_LIFT = 0.62; // rad, from which the bowl is seen
const LET_GO = 150; // of the path's slider, beyond the 1000 of pressing

function toneOf(share) {
  const at = Math.min(Math.max(share, 0), 1) * (TONES.length - 1), i = Math.min(Math.floor(at), TONES.length - 2);
  return TONES[i].map((v, k) => v + (at - i) * (TONES[i + 1][k] - v));
}

class Space {
  constructor(canvas) {
    this.canvas = canvas;
    this.turnBack();
    this.zoom = 1;
    this.bowl = this.ghost = null;
    this.at = 1150;
    this.waiting = false;
    this.moved = () => {};
    this.touches = new Map();
    canvas.addEventListener("pointerdown", (e) => {
      this.touches.set(e.pointerId, [e.clientX, e.clientY]);
      try { canvas.setPointerCapture(e.pointerId); } catch { /* the pointer is gone already */ }
    });
    canvas.addEventListener("pointermove", (e) => this.drag(e));
    for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, (e) => this.touches.delete(e.pointerId));
    canvas.addEventListener("keydown", (e) => this.key(e));
    new ResizeObserver(() => this.draw()).observe(canvas);
  }
  turnBack() { this.yaw = Math.PI - 0.55; this.lift = FIRST_LIFT; } // the usual root lies at the back, to be seen
  drag(event) {
    const from = this.touches.get(event.pointerId);
    if (!from) return;
    const to = [event.clientX, event.clientY];
    this.touches.set(event.pointerId, to);
    this.turn((to[0] - from[0]) / 110, (to[1] - from[1]) / 140);
  }
  key(event) {
    const step = { ArrowLeft: [-0.1, 0], ArrowRight: [0.1, 0], ArrowUp: [0, -0.08], ArrowDown: [0, 0.08] }[event.key];
    if (event.key === "Home") this.turnBack(); else if (!step) return;
    event.preventDefault();
    this.turn(...(step || [0, 0]));
  }
  turn(across, up) {
    this.yaw += across;
    this.lift = Math.min(Math.max(this.lift + up, -STEEPEST), STEEPEST);
    this.draw();
    this.moved(this);
  }
  static made(space) { // knots of the slider: pressing by its rise, letting go behind it
    const pressing = space.states.filter((s) => !["let go", "springs back"].includes(s.name));
    const most = Math.max(...pressing.map((s) => s.rise_mm), 1e-9);
    let before = -1;
    const knots = space.states.map((s, i) => {
      const at = i < pressing.length ? Math.max(1000 * s.rise_mm / most, before + 1) : 1000 + LET_GO;
      return (before = i === 0 ? 0 : at);
    });
    if (pressing.length > 1) {
      const last = knots[pressing.length - 1];
      for (let i = 0; i < pressing.length; i++) knots[i] *= 1000 / last;
    }
    // The strip is laid out counter-clockwise; a table that goes down on the right makes the mirrored bowl, as on the
    // pattern. Its corners then run counter to the clock on the faces that are turned to the eye.
    const sawn = (places) => Float32Array.from(places, (v, i) => (i % 3 === 1 ? -v : v));
    const places = space.states[0].corners, reaches = Array.from({ length: places.length / 3 }, (_, i) => Math.hypot(places[3 * i], places[3 * i + 1]));
    return { ...space, knots, reach_mm: 2 * Math.max(...reaches), tallest_mm: Math.max(...space.states.map((s) => s.rise_mm), 0), base: sawn(space.base), states: space.states.map((s) => ({ ...s, corners: sawn(s.corners) })) };
  }
  put(bowl) { this.bowl = bowl; this.draw(); }
  end() { return this.bowl ? this.bowl.knots.at(-1) : 0; }
  between() { // the two calculated states about the slider, and how far between them
    const { knots } = this.bowl, at = Math.min(this.at, knots.at(-1));
    let i = knots.findIndex((k) => k >= at - 1e-6);
    i = Math.max(i, 1);
    if (knots.length === 1) return [0, 0, 0];
    return [i - 1, i, (at - knots[i - 1]) / (knots[i] - knots[i - 1])];
  }
  draw() {
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => { this.waiting = false; this.paint(); });
  }
  paint() {
    const { canvas } = this, wide = canvas.clientWidth, high = canvas.clientHeight;
    if (!wide || !high) return;
    const began = performance.now();
    const dots = Math.min(devicePixelRatio || 1, 2);
    if (canvas.width !== Math.round(wide * dots)) canvas.width = Math.round(wide * dots);
    if (canvas.height !== Math.round(high * dots)) canvas.height = Math.round(high * dots);
    const pen = canvas.getContext("2d");
    pen.setTransform(dots, 0, 0, dots, 0, 0);
    pen.clearRect(0, 0, wide, high);
    if (!this.bowl) return;
    const style = getComputedStyle(canvas);
    this.ink = style.color;
    this.paper = style.getPropertyValue("--paper").trim() || "#fff";
    const [from, to, part] = this.between();
    const a = this.bowl.states[from], b = this.bowl.states[to];
    const corners = new Float32Array(a.corners.length);
    for (let i = 0; i < corners.length; i++) corners[i] = a.corners[i] + part * (b.corners[i] - a.corners[i]);
    const work = (e) => (a.work ? a.work[e] : 0) * (1 - part) + (b.work ? b.work[e] : 0) * part;
    const most = (name) => Math.max(this.bowl[name], this.ghost?.[name] ?? 0); // the bowl before lies on the canvas too
    const tallest = most("tallest_mm"), size = most("reach_mm");
    // As large as it can be while it stands as it does at first; seen from higher up it must still lie on the canvas.
    const room = (lift) => size * Math.sin(lift) + (tallest + most("thickness_mm")) * Math.cos(lift);
    const scale = this.zoom * Math.min((wide - 76) / size, (high - 34) / Math.max(room(FIRST_LIFT), room(Math.abs(this.lift))));
    this.view = { cy: Math.cos(this.yaw), sy: Math.sin(this.yaw), cl: Math.cos(this.lift), sl: Math.sin(this.lift),
      x: wide / 2, y: high / 2 + tallest * scale * Math.cos(this.lift) * 0.5, scale };
    this.strip(pen, corners, work);
    if (this.ghost) this.before(pen);
    this.marks(pen, corners, part > 0.5 ? to : from);
    this.spent_ms = performance.now() - began;
  }
  seen(x, y, z) { // place on the canvas, and how near
    const v = this.view, across = x * v.cy - y * v.sy, away = x * v.sy + y * v.cy;
    return [v.x + across * v.scale, v.y - (away * v.sl + z * v.cl) * v.scale];
  }
  shape(pen, places, fill, edge) {
    pen.beginPath();
    places.forEach(([x, y], i) => (i ? pen.lineTo(x, y) : pen.moveTo(x, y)));
    pen.closePath();
    if (fill) { pen.fillStyle = fill; pen.fill(); }
    pen.strokeStyle = edge || fill;
    pen.lineWidth = edge ? 0.8 : 0.6;
    pen.stroke();
  }
  base(pen) {
    const rim = this.bowl.base, count = rim.length / 6, below = [], above = [];
    for (let i = 0; i < count; i++) {
      below.push(this.seen(rim[6 * i], rim[6 * i + 1], rim[6 * i + 2]));
      above.push(this.seen(rim[6 * i + 3], rim[6 * i + 4], rim[6 * i + 5]));
    }
    const wood = toneOf(0.06), tinted = (by) => `rgb(${wood.map((v) => Math.round(v * by)).join(",")})`;
    const up = this.lift >= 0, edge = "rgb(91,69,42)";
    const sides = () => {
      for (let i = 0; i < count; i++) {
        const j = (i + 1) % count, quad = [below[i], below[j], above[j], above[i]];
        if (area(quad) < 0) this.shape(pen, quad, tinted(0.78));
      }
    };
    this.shape(pen, up ? below : above, tinted(0.7), edge);
    sides();
    this.shape(pen, up ? above : below, tinted(up ? 1 : 0.85), edge);
    const half = this.bowl.thickness_mm / 2, z = up ? half : -half; // grain, as lines along x
    const reach = Math.min(...Array.from({ length: count }, (_, i) => Math.hypot(rim[6 * i], rim[6 * i + 1]))) * 0.88;
    pen.strokeStyle = "rgba(120,80,30,0.45)";
    pen.lineWidth = 1;
    pen.beginPath();
    for (let k = -3; k <= 3; k++) {
      const y = (k / 3.6) * reach, x = Math.sqrt(Math.max(reach * reach - y * y, 0)) * (0.82 + 0.06 * ((k * k) % 3));
      const [x0, y0] = this.seen(-x, y, z), [x1, y1] = this.seen(x, y, z);
      pen.moveTo(x0, y0);
      pen.lineTo(x1, y1);
    }
    pen.stroke();
  }
  strip(pen, corners, work) {
    // Along a line of sight turns lie one in another: inner ones nearer beyond the middle, outer ones before it.
    const nodes = corners.length / 12, seen = new Array(4 * nodes), order = [[0, -1]];
    for (let i = 0; i < 4 * nodes; i++) seen[i] = this.seen(corners[3 * i], corners[3 * i + 1], corners[3 * i + 2]);
    for (let e = 0; e + 1 < nodes; e++) {
      // Outward, from the section's inner edge to its outer one: away from the eye beyond the axis.
      const x = corners[12 * e + 3] - corners[12 * e], y = corners[12 * e + 4] - corners[12 * e + 1];
      order.push([x * this.view.sy + y * this.view.cy > 0 ? -(e + 1) : e + 1, e]);
    }
    order.sort((p, q) => p[0] - q[0]);
    const lit = [0.74, 0.84, 1, 0.92, 0.9], worst = this.bowl.worst?.element;
    for (const [, e] of order) {
      if (e < 0) { this.base(pen); continue; }
      const tone = toneOf(work(e));
      for (let side = 0; side < (e === nodes - 2 ? 5 : 4); side++) {
        const next = (side + 1) % 4, at = 4 * e;
        const quad = side < 4 ? [seen[at + side], seen[at + next], seen[at + 4 + next], seen[at + 4 + side]] : [seen[at + 7], seen[at + 6], seen[at + 5], seen[at + 4]];
        if (area(quad) <= 0) continue; // turned away
        const by = lit[side];
        this.shape(pen, quad, `rgb(${Math.round(tone[0] * by)},${Math.round(tone[1] * by)},${Math.round(tone[2] * by)})`);
        pen.strokeStyle = "rgba(60,40,20,0.75)";
        pen.lineWidth = 0.7;
        pen.beginPath();
        if (side < 4) { pen.moveTo(quad[0][0], quad[0][1]); pen.lineTo(quad[3][0], quad[3][1]); pen.moveTo(quad[1][0], quad[1][1]); pen.lineTo(quad[2][0], quad[2][1]); }
        pen.stroke();
        if (e === worst) this.shape(pen, quad, null, "#c2181f");
      }
    }
  }
  before(pen) { // edges of the bowl before at the same place of the slider
    const now = this.bowl, keep = this.at;
    this.bowl = this.ghost;
    this.at = keep >= 1000 ? this.end() : Math.min(keep, this.end());
    const [from, to, part] = this.between(), a = this.ghost.states[from].corners, b = this.ghost.states[to].corners;
    const nodes = a.length / 12, turn = this.ghost.nodes_per_turn;
    pen.strokeStyle = this.ink;
    pen.lineWidth = 1.1;
    pen.setLineDash([5, 4]);
    const line = (corner, first) => {
      pen.beginPath();
      for (let n = Math.max(first, 0); n < nodes; n++) {
        const i = 12 * n + 3 * corner, at = [0, 1, 2].map((k) => a[i + k] + part * (b[i + k] - a[i + k]));
        const [x, y] = this.seen(...at);
        if (n === Math.max(first, 0)) pen.moveTo(x, y); else pen.lineTo(x, y);
      }
      pen.stroke();
    };
    line(2, nodes - 1 - turn);
    line(1, nodes - 1 - turn);
    pen.beginPath();
    for (let i = 0; 6 * i < this.ghost.base.length; i++) {
      const [x, y] = this.seen(...this.ghost.base.slice(6 * i, 6 * i + 3));
      if (i) pen.lineTo(x, y); else pen.moveTo(x, y);
    }
    pen.stroke();
    pen.setLineDash([]);
    this.bowl = now;
    this.at = keep;
  }
  wordPlace([x, y], width, marked, { words, lines, dots }) { // clear of other words, of their lines and of all marks
    const out = x < this.view.x ? -1 : 1, away = y < this.view.y ? -17 : 17, { clientWidth, clientHeight } = this.canvas;
    const places = [];
    for (let step = 0; step < 9; step++) for (const by of [away, -away]) for (const side of [out, -out]) {
      const beside = !marked ? x : side < 0 ? x - 14 - width : x + 14, left = Math.min(Math.max(beside, 3), clientWidth - width - 3);
      const row = Math.min(Math.max(y - (marked ? 12 : 0) + step * by, 14), clientHeight - 6), end = side < 0 ? left + width : left;
      places.push({ left, row, end, box: [left - 2, row - 8, width + 4, 16], line: marked ? [x, y, end, row] : [] });
    }
    const apart = ({ box }) => !words.some((word) => overlap(box, word));
    const clear = ({ box, line }) => !dots.some((dot) => overlap(box, dot)) && !lines.some((other) => crosses(other, box)) && !words.some((word) => crosses(line, word));
    const found = places.find((place) => apart(place) && clear(place)) ?? places.find(apart) ?? places[0];
    words.push(found.box);
    lines.push(found.line);
    return found;
  }
  marks(pen, corners, state) {
    const nodes = corners.length / 12;
    const middle = (n, m = n) => [0, 1, 2].map((k) => {
      let sum = 0;
      for (const i of [n, m]) for (let c = 2; c < 4; c++) sum += corners[12 * i + 3 * c + k];
      return sum / 4;
    });
    const marks = [["root", middle(0)], ["nail", middle(nodes - 1)]];
    const worst = this.bowl.worst;
    if (worst && state > 0) marks.push([this.bowl.end === "falls through" ? "likeliest to split" : "worst place", middle(worst.element, worst.element + 1)]);
    if (this.bowl.through?.length && this.bowl.states[state].name === "falls through") {
      const e = this.bowl.through[Math.floor(this.bowl.through.length / 2)];
      marks.push(["falls through here", middle(e, e + 1)]);
    }
    marks.push(["grain", [0.8 * Math.min(this.bowl.base[0] ? Math.hypot(this.bowl.base[3], this.bowl.base[4]) : 20, 1e6), 0, this.bowl.thickness_mm / 2]]);
    pen.font = '13px "DejaVu Sans", sans-serif';
    const seen = marks.map(([word, place]) => [word, ...this.seen(...place)]);
    const taken = { words: [], lines: [], dots: seen.filter(([word]) => word !== "grain").map(([, x, y]) => [x - 5, y - 5, 10, 10]) };
    for (const [word, x, y] of seen) {
      const { left, row, end } = this.wordPlace([x, y], pen.measureText(word).width, word !== "grain", taken);
      pen.lineWidth = 1.2;
      if (word !== "grain") {
        pen.strokeStyle = this.ink;
        pen.beginPath(); pen.moveTo(x, y); pen.lineTo(end, row); pen.stroke();
        pen.fillStyle = word === "root" || word === "nail" ? this.paper : "#c2181f";
        pen.beginPath(); pen.arc(x, y, 4.5, 0, 7); pen.fill(); pen.stroke();
      }
      pen.textAlign = "left";
      pen.lineWidth = 4;
      pen.lineJoin = "round";
      pen.strokeStyle = this.paper;
      pen.strokeText(word, left, row + 4);
      pen.fillStyle = this.ink;
      pen.fillText(word, left, row + 4);
    }
  }
}

const overlap = ([x0, y0, w0, h0], [x1, y1, w1, h1]) => x0 < x1 + w1 && x1 < x0 + w0 && y0 < y1 + h1 && y1 < y0 + h0;

function crosses([x0, y0, x1, y1], box) { // a line of less than 200 px through a word
  const along = Array.from({ length: 51 }, (_, i) => i / 50);
  return x0 !== undefined && along.some((p) => overlap([x0 + p * (x1 - x0), y0 + p * (y1 - y0), 0, 0], box));
}

function area(quad) { // twice the area as seen, above zero where the corners run counter to the clock
  let sum = 0;
  for (let i = 0; i < quad.length; i++) {
    const [x0, y0] = quad[i], [x1, y1] = quad[(i + 1) % quad.length];
    sum += x1 * y0 - x0 * y1;
  }
  return sum;
}

// ---------------------------------------------------------------- the section, with handles

const SVG = "http://www.w3.org/2000/svg";

function svgPart(name, given, text) {
  const found = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(given)) found.setAttribute(key, value);
  if (text !== undefined) found.textContent = text;
  return found;
}

class Section {
  constructor(box, moved, shown) {
    Object.assign(this, { box, moved, shown, held: "", found: null });
    new ResizeObserver(() => this.draw()).observe(box);
  }
  put(found) { this.found = found; this.draw(); }
  draw() {
    const found = this.found, wide = Math.round(this.box.clientWidth);
    if (!found || !wide) return;
    const focused = document.activeElement?.dataset?.handle;
    const half = found.thickness_mm / 2;
    const rise = Math.max(half, ...found.met.map((p) => Math.max(...p.corners.filter((_, i) => i % 2))));
    const scale = Math.min((wide - 86) / (2 * found.half_mm), 200 / (rise + 3 * half), 3.2);
    const openAt = 12 + rise * scale, flatAt = (found.met.length ? openAt + half * scale + 22 : 0) + 74 + half * scale; // 22: the words below the open one lie above the blade's
    const high = flatAt + half * scale + 58, x0 = wide / 2;
    const svg = svgPart("svg", { viewBox: `0 0 ${wide} ${high}`, width: wide, height: high, role: "group", "aria-label": "Section through the bowl" });
    const place = (level) => (x, z) => `${(x0 + x * scale).toFixed(1)},${(level - z * scale).toFixed(1)}`;
    const wood = (pieces, level, kind) => pieces.map(({ turn, corners }) => {
      const at = place(level), points = [0, 2, 4, 6].map((i) => at(corners[i], corners[i + 1])).join(" ");
      return svgPart("polygon", { points, class: `${turn ? "turn" : "base"} ${kind}` });
    });
    const parts = [...wood(found.met, openAt, "met"), ...wood(found.flat, flatAt, "flat")];
    if (found.met.length) parts.push(svgPart("text", { x: x0, y: openAt + half * scale + 18, class: "heading" }, found.words || ""));
    const right = found.flat.filter((p) => p.turn > 0 && p.corners[0] + p.corners[2] > 0);
    const edge = (piece) => (piece.corners[0] + piece.corners[6]) / 2; // inner edge at mid-thickness
    const baseEdge = right.length ? edge(right[0]) - found.slot_mm / 2 : found.base_mm / 2;
    const next = right.length > 1 ? edge(right[1]) - found.slot_mm / 2 : baseEdge + found.pitch_mm;
    const bottom = flatAt + half * scale, top = flatAt - half * scale;
    const lean = Math.tan(found.true_tilt_deg * Math.PI / 180), long = 52 / scale;
    const blade = [baseEdge + lean * (half + long), half + long];
    parts.push(svgPart("path", { class: "blade", d: `M${place(flatAt)(baseEdge - lean * (half + 10 / scale), -half - 10 / scale)}L${place(flatAt)(...blade)}` }));
    const handles = [
      ["board.across", "Rim", x0 + found.half_mm * scale, flatAt, "rim", 16, 0],
      ["cut.base", "Base", x0 + baseEdge * scale, bottom + 22, "base", 0, 24],
      ["cut.pitch", "Pitch", x0 + next * scale, bottom + 22, "pitch", 0, 24],
      ["cut.tilt", "Blade", x0 + blade[0] * scale, flatAt - blade[1] * scale, "blade", 0, -14],
    ];
    if (handles[2][2] - handles[1][2] < 34) handles[2][2] = handles[1][2] + 34; // told apart under a finger
    const close = handles[2][2] - handles[1][2] < 52; // their words would run into each other
    const anchors = close ? { "cut.base": ["end", 9], "cut.pitch": ["start", -9] } : {};
    for (const [key, name, x, y, word, dx, dy] of handles) {
      const { text, number, low, high: most } = this.shown(key);
      const g = svgPart("g", { class: `handle${this.held === key ? " held" : ""}`, tabindex: 0, role: "slider", "data-handle": key,
        "aria-label": `${name}, drag or arrow keys`, "aria-valuetext": text, "aria-valuenow": number, "aria-valuemin": low, "aria-valuemax": most });
      if (key === "cut.base" || key === "cut.pitch") g.append(svgPart("path", { class: "thin", d: `M${x},${y}L${x0 + (key === "cut.base" ? baseEdge : next) * scale},${bottom}` }));
      g.append(svgPart("circle", { cx: x, cy: y, r: 17, class: "target" }), svgPart("circle", { cx: x, cy: y, r: 8, class: "knob" }));
      g.append(svgPart("text", { x: x + dx + (anchors[key]?.[1] || 0), y: y + dy + 5, class: anchors[key]?.[0] || (dx ? "start" : "") }, word));
      parts.push(g);
    }
    const { size, write } = rule(fields.get("board.across"));
    const whole = Math.abs(2 * found.half_mm - found.across_mm) < 0.05 // else across and base are measured another way than this section lies
      ? `a board ${this.shown("board.across").text} across with a base of ${this.shown("cut.base").text}`
      : `a board that measures ${write(2 * found.half_mm / size)} in it`;
    svg.append(svgPart("title", {}, `Section: ${whole}, sawn at ${this.shown("cut.tilt").text}`), ...parts);
    svg.addEventListener("pointerdown", (event) => this.grasp(event, scale, found));
    svg.addEventListener("keydown", (event) => this.key(event));
    this.box.replaceChildren(svg);
    if (focused) this.box.querySelector(`[data-handle="${focused}"]`)?.focus({ preventScroll: true });
  }
  grasp(event, scale, found) {
    const key = event.target.closest?.("[data-handle]")?.dataset.handle;
    if (!key) return;
    event.preventDefault();
    this.box.querySelector(`[data-handle="${key}"]`).focus({ preventScroll: true });
    this.held = key;
    const from = [event.clientX, event.clientY];
    const long = found.thickness_mm + 52 / scale;
    const start = { "board.across": found.across_mm, "cut.base": found.base_mm, "cut.pitch": found.pitch_mm, "cut.tilt": found.tilt_deg }[key];
    const lean = Math.tan(found.true_tilt_deg * Math.PI / 180);
    const move = (e) => {
      e.preventDefault();
      const by = (e.clientX - from[0]) / scale;
      const to = { "board.across": start + 2 * by, "cut.base": start + 2 * by, "cut.pitch": start + by,
        "cut.tilt": start + (Math.atan(lean + by / long) * 180 / Math.PI - found.true_tilt_deg) }[key];
      this.moved(key, to);
    };
    const end = () => {
      this.held = "";
      removeEventListener("pointermove", move);
      for (const kind of ["pointerup", "pointercancel"]) removeEventListener(kind, end);
      this.draw();
    };
    addEventListener("pointermove", move, { passive: false });
    for (const kind of ["pointerup", "pointercancel"]) addEventListener(kind, end);
  }
  key(event) {
    const key = event.target.closest?.("[data-handle]")?.dataset.handle;
    const step = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1, PageUp: 5, PageDown: -5 }[event.key];
    if (!key || !step) return;
    event.preventDefault();
    this.moved(key, null, step);
  }
}
