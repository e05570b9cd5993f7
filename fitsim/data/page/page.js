"use strict";
// The page asks; everything is worked out in Python. Here values are only carried to and fro and shown.

const REST_MS = 450;
const one = (css, under = document) => under.querySelector(css);
const all = (css, under = document) => [...under.querySelectorAll(css)];
const fields = new Map(); // key -> {box, input, slider, reads, wrong}
let carried = []; // keys and values of the address for which there is no field: the saw file, unknown keys
let units = "in";

// ---------------------------------------------------------------- numbers as they are written

function fraction(value, parts) {
  let top = Math.round(value * parts), below = parts;
  const whole = Math.floor(top / parts);
  top -= whole * parts;
  while (top && top % 2 === 0) { top /= 2; below /= 2; }
  return [whole || !top ? String(whole) : "", top ? `${top}/${below}` : ""].filter(Boolean).join(" ");
}

function rule(field) { // the slider's unit, ends and step, and how a value is written
  const length = field.box.dataset[units];
  if (length) {
    const [low, high, step] = length.split(" ").map(Number);
    const parts = units === "in" && step >= 1;
    const size = units === "in" ? 25.4 : 1;
    const places = step >= 1 ? 0 : (String(step).split(".")[1] || "").length;
    return { low, high, step: parts ? 1 / step : step, size,
      write: (v) => `${parts ? fraction(v, step) : +v.toFixed(places)} ${units}` };
  }
  const [unit, low, high, step] = field.box.dataset.unit.split(" ");
  const places = (step.split(".")[1] || "").length;
  return { low: +low, high: +high, step: +step, size: 1,
    write: (v) => `${+v.toFixed(places)} ${unit}`.trim() };
}

// ---------------------------------------------------------------- fields

function makeField(box) {
  const field = { box, input: one("input, select", box), slider: null, spans: null };
  const label = one("label", box);
  field.reads = document.createElement("p");
  field.reads.className = "reads";
  field.wrong = document.createElement("p");
  field.wrong.className = "wrong";
  field.reads.id = `${field.input.id}-reads`;
  field.wrong.id = `${field.input.id}-wrong`;
  const told = all("p[id]", box).map((p) => p.id);
  field.input.setAttribute("aria-describedby", [field.wrong.id, field.reads.id, ...told].join(" "));
  if (box.dataset.unit !== undefined || box.dataset.in) {
    const track = document.createElement("div");
    track.className = "track";
    field.spans = document.createElement("div");
    field.spans.className = "spans";
    field.slider = document.createElement("input");
    field.slider.type = "range";
    field.slider.setAttribute("aria-label", `${label.textContent}, slider`);
    if (told.length) field.slider.setAttribute("aria-describedby", told.join(" "));
    track.append(field.spans, field.slider);
    one("input", box).after(track);
    field.slider.addEventListener("input", () => {
      field.input.value = rule(field).write(Number(field.slider.value));
      field.slider.setAttribute("aria-valuetext", field.input.value);
      giveWay(field);
      changed();
    });
  }
  box.append(field.reads, field.wrong);
  field.input.addEventListener("input", () => {
    giveWay(field);
    if (!box.dataset.key.startsWith("room.")) { changed(); return; }
    field.wrong.textContent = ""; // the room matters to the year alone
    field.input.removeAttribute("aria-invalid");
    remember();
  });
  fields.set(box.dataset.key, field);
}

function giveWay(field) { // pitch and turns say the same: the one that is moved stands
  const other = fields.get(field.box.dataset.instead);
  if (other && field.input.value) other.input.value = "";
}

function setSliders() {
  for (const field of fields.values()) {
    if (!field.slider) continue;
    const { low, high, step } = rule(field);
    Object.assign(field.slider, { min: low, max: high, step });
  }
}

function placeSliders(places) {
  for (const [key, value] of Object.entries(places)) {
    const field = fields.get(key);
    if (!field?.slider || field.slider === document.activeElement) continue;
    const { size, write } = rule(field);
    field.slider.value = value / size;
    field.slider.setAttribute("aria-valuetext", field.input.value || `${write(value / size)}, assumed`);
  }
}

// ---------------------------------------------------------------- the address

const PAGE = { paper: "", copies: "1", middle: "lowered", lowered: "right", across: "tilt=2..14", up: "kerf=0.4..1.6 mm",
  stored: "open", opened: "afresh", since: "" };

function pairs() {
  const found = [];
  for (const [key, { input, box }] of fields) {
    const values = box.dataset.list ? input.value.split(";") : [input.value];
    for (const value of values) if (value.trim()) found.push([key, value.trim()]);
  }
  return [...found, ...carried, ["units", units]];
}

function query(extra = []) {
  return [...pairs(), ...extra].map(([k, v]) => `${encodeURIComponent(k)}=${encodeURIComponent(v)}`).join("&");
}

function usual(word) { return word === "paper" ? (units === "in" ? "letter" : "a4") : PAGE[word]; }

function pageWords() {
  return Object.keys(PAGE).map((word) => [word, one(`#${word}`).value.trim()])
    .filter(([word, value]) => value && value !== usual(word))
    .concat(one("#by-itself").checked ? [] : [["slow", "asked"]], one("#strip").checked ? [["strip", "yes"]] : []);
}

function show(list) { // put keys and values into the fields
  const left = new Map();
  for (const [key, value] of list) left.set(key, [...(left.get(key) || []), value]);
  if (left.has("units")) units = left.get("units")[0] === "mm" ? "mm" : "in";
  else units = /m$/.test((left.get("board.thickness") || [""])[0].trim()) ? "mm" : "in";
  left.delete("units");
  one("#by-itself").checked = !left.delete("slow");
  one("#strip").checked = left.delete("strip");
  for (const word of Object.keys(PAGE)) {
    const control = one(`#${word}`);
    const value = left.get(word)?.[0] ?? usual(word);
    control.value = value;
    left.delete(word);
  }
  for (const [key, { input }] of fields) {
    const value = (left.get(key) || []).join("; ");
    if (input.tagName === "SELECT" && value && ![...input.options].some((o) => o.value === value)) input.add(new Option(value));
    input.value = value;
    left.delete(key);
  }
  carried = [...left].flatMap(([key, values]) => values.map((value) => [key, value]));
  one(`#units input[value=${units}]`).checked = true;
  showSaw();
  showFindings();
  setSliders();
}

// Keys of a file of what was learned: a saw file, or what other tests taught.
function isLearned(key) {
  return /^(saw|friction|strength|moisture)\./.test(key);
}

function showSaw() {
  const known = new Map(carried.filter(([key]) => isLearned(key)));
  one("#no-saw").hidden = !known.size;
  const said = [];
  if (known.has("saw.kerf")) said.push(`Sawn with: ${known.get("saw.name") || "the saw file"} (kerf ${known.get("saw.kerf")}, true tilt = scale + ${known.get("saw.tilt_offset")}). Tilt is what the scale reads; the kerf is the saw's.`);
  const tests = ["friction", "strength", "moisture"].filter((table) => [...known.keys()].some((key) => key.startsWith(`${table}.`)));
  if (tests.length) said.push(`From the tests ${known.get("saw.name") || "in the file"}: ${tests.join(", ")}.`);
  one("#saw").textContent = said.join(" ");
}

function remember() {
  const address = `/?${query(pageWords())}`;
  if (address !== location.pathname + location.search) history.replaceState(null, "", address);
  one("#save").href = `/bowl.toml?${query()}`;
  one("#line").href = `/line.svg?${query(pageWords().filter(([w]) => w === "middle" || w === "lowered"))}`;
}

// ---------------------------------------------------------------- while a control moves

let asking = false, again = false, resting = 0, shownFor = "";

function changed() {
  clearTimeout(resting);
  if (tiltsOf() !== tiltsFor) fields.get("cut.tilt").box.classList.add("old");
  resting = setTimeout(rested, REST_MS);
  jobs.get("pressed").stop();
  redraw();
}

async function redraw() {
  again = true;
  if (asking) return;
  asking = true;
  while (again) {
    again = false;
    const asked = query();
    const wide = Math.round(one("#drawing").clientWidth);
    try {
      const reply = await fetch(`/now?${asked}&wide_px=${wide}`);
      const found = await reply.json();
      if (reply.ok) showClosed(found, asked); else showProblems(found);
    } catch {
      showProblems({ failed: "The page's server does not answer: start it again with fitsim page, then reload. Your bowl is in the address." });
    }
  }
  asking = false;
}

function drawingOf(text) {
  const parsed = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
  return document.importNode(parsed, true);
}

function showClosed(found, asked) {
  document.body.classList.remove("unread");
  for (const field of fields.values()) { field.wrong.textContent = ""; field.input.removeAttribute("aria-invalid"); }
  one("#problems").hidden = true;
  one("#drawing").replaceChildren(drawingOf(found.drawing));
  showVerdict(found);
  rows("#bowl-table", found.bowl);
  rows("#saw-table", found.saw);
  for (const [key, field] of fields) {
    const assumed = !field.input.value && found.assumed[key];
    field.reads.textContent = assumed ? `assumed: ${assumed}` : found.reads[key] ? `that is ${found.reads[key]}` : "";
  }
  placeSliders(found.places);
  document.title = `${found.line}: ${found.name}`;
  shownFor = asked;
}

function showVerdict(found) {
  const verdict = one("#verdict");
  const [states, depends = ""] = found.line.split(": ");
  verdict.textContent = states;
  one("#depends").textContent = depends;
  const fails = found.state !== "locks";
  verdict.dataset.state = !fails ? "locks" : / or LOCKS/.test(found.line) ? "may fail" : "failing";
  one("#rise-of").textContent = found.rise_of;
  one("#rise").textContent = found.rise;
  one("#why").textContent = found.why;
  one("#rests-on").textContent = found.rests_on === "elastic strip"
    ? "This verdict rests on the springy strip, pressed open."
    : "This verdict rests on the closed form; the springy strip follows when the controls rest.";
  list("#settle", found.settle);
  list("#notes", found.notes);
  one("#margins").replaceChildren(...found.margins.map(marginOf));
}

function marginOf(margin) {
  const item = document.createElement("li");
  item.dataset.word = margin.word;
  const part = (kind, text) => {
    const span = document.createElement("span");
    span.className = kind;
    span.textContent = text;
    item.append(span);
    return span;
  };
  part("state", margin.state);
  const bar = part("bar", "");
  bar.setAttribute("aria-hidden", "true");
  const middle = document.createElement("b"), reach = document.createElement("i");
  middle.style.width = `${100 * margin.middle}%`;
  reach.style.left = `${100 * margin.best}%`;
  reach.style.width = `${100 * Math.max(margin.worst - margin.best, 0)}%`;
  bar.append(middle, reach);
  part("word", margin.word);
  part("words", margin.reach ? `${margin.words}; ${margin.reach}` : margin.words);
  return item;
}

function list(css, lines) {
  one(css).replaceChildren(...lines.map((line) => Object.assign(document.createElement("li"), { textContent: line })));
}

function rows(css, found) {
  one(`${css} tbody`).replaceChildren(...found.map(([name, value]) => {
    const row = document.createElement("tr");
    const head = Object.assign(document.createElement("th"), { textContent: name, scope: "row" });
    row.append(head, Object.assign(document.createElement("td"), { textContent: value }));
    return row;
  }));
}

function markProblems(problems) { // each beside its field; gives back those that have none
  const elsewhere = [];
  for (const { key, text } of problems) {
    const field = fields.get(key);
    if (!field) { elsewhere.push(text); continue; }
    field.wrong.textContent = [field.wrong.textContent, text].filter(Boolean).join("\n");
    field.input.setAttribute("aria-invalid", "true");
    field.box.closest("details")?.setAttribute("open", "");
  }
  return elsewhere;
}

function showProblems({ problems = [], failed }) {
  document.body.classList.add("unread");
  for (const field of fields.values()) { field.wrong.textContent = ""; field.input.removeAttribute("aria-invalid"); }
  const elsewhere = [...(failed ? [failed] : []), ...markProblems(problems)];
  one("#problems").hidden = !elsewhere.length;
  one("#problems").textContent = elsewhere.join("\n");
  const verdict = one("#verdict");
  verdict.textContent = "No answer yet";
  one("#depends").textContent = "";
  verdict.dataset.state = "failing";
  one("#rests-on").textContent = "One field cannot be read, see there; the drawing is of the last bowl that could.";
}

// ---------------------------------------------------------------- when the controls rest

let tiltsFor = "";

function rested() {
  remember();
  const wrong = all("[aria-invalid=true]").length;
  say(wrong ? all(".wrong").map((p) => p.textContent).filter(Boolean).join(" ") : `${one("#verdict").textContent}. ${one("#rise-of").textContent} ${one("#rise").textContent}.`);
  if (document.body.classList.contains("unread")) return;
  const pressed = jobs.get("pressed");
  if (!one("#by-itself").checked) { pressed.busy(pressed.control !== null); return; } // it may have been started by hand already
  pressed.start();
  if (tiltsOf() !== tiltsFor) { tiltsFor = tiltsOf(); findTilts(); } else fields.get("cut.tilt").box.classList.remove("old");
}

function tiltsOf() { // what the safe tilts hang on
  return pairs().filter(([key]) => !["cut.tilt", "units", "name"].includes(key) && !/^(room|seen|measured)\./.test(key)).join("&");
}

function say(text) { one("#said").textContent = text; }

// One slow question at a time of each kind. Hanging up ends the work on the other side.
class Job {
  constructor(box, extra, done) {
    Object.assign(this, { box, extra, done, kind: box.dataset.job, control: null });
    one(".start", box)?.addEventListener("click", () => this.start());
    one(".stop", box)?.addEventListener("click", () => { this.stop(); this.tell("Stopped."); one(".start", box)?.focus(); });
  }
  tell(text) { one(".told", this.box).textContent = text; }
  busy(on) {
    one("progress", this.box).hidden = !on;
    one(".stop", this.box).hidden = !on;
    one(".start", this.box).hidden = on;
  }
  stop() {
    this.control?.abort();
    this.control = null;
    this.busy(false);
  }
  async start() {
    this.stop();
    const control = (this.control = new AbortController());
    this.busy(true);
    const began = performance.now();
    const body = this.kind === "year" ? weather : null;
    await ask(this.kind, query(this.extra()), control.signal, (line) => {
      this.tell(`${line[0].toUpperCase()}${line.slice(1)} (${Math.round((performance.now() - began) / 1000)} s)`);
    }, (found) => {
      this.control = null;
      this.busy(false);
      if (found.answer) { this.tell(""); this.done(found.answer, this); return; }
      this.tell(found.failed || markProblems(found.problems).join("\n") || "See the marked field.");
    }, body);
  }
}

async function ask(kind, asked, signal, told, done, body = null) {
  try {
    const reply = await fetch(`/${kind}?${asked}`, body ? { signal, body, method: "POST" } : { signal });
    if (!reply.ok) { done(await reply.json()); return; }
    const reader = reply.body.pipeThrough(new TextDecoderStream()).getReader();
    let rest = "";
    for (;;) {
      const { value, done: over } = await reader.read();
      if (over) break;
      const lines = (rest + value).split("\n");
      rest = lines.pop();
      for (const line of lines) {
        const news = JSON.parse(line);
        if (news.told) told(news.told); else done(news);
      }
    }
  } catch (error) {
    if (!signal.aborted) done({ failed: "The page's server does not answer." });
  }
}

const jobs = new Map();

function makeJobs() {
  const box = (kind) => one(`.work[data-job=${kind}]`);
  jobs.set("pressed", new Job(box("pressed"), () => [], showPressed));
  one("#by-itself").addEventListener("change", rested);
  jobs.set("sheets", new Job(box("sheets"), () => ["paper", "copies", "middle", "lowered"].map((word) => [word, one(`#${word}`).value.trim()]), takeSheets));
  jobs.set("map", new Job(box("map"), () => pageWords().filter(([w]) => w === "across" || w === "up"), showMap));
}

function showPressed(found) {
  showVerdict(found);
  rows("#pressing", found.pressing);
  rows("#bowl-table", found.bowl);
  const holds = found.pressing.find(([name]) => name.startsWith("press it needs"));
  say(`On the springy strip: ${found.line}.${holds ? ` Press it needs to hold: ${holds[1]}.` : ""}`);
}

function takeSheets(found, job) {
  const bytes = Uint8Array.from(atob(found.pdf), (c) => c.charCodeAt(0));
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([bytes], { type: "application/pdf" }));
  link.download = "bowl-sheet.pdf";
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
  job.tell(["Print at 100 %, never fitted to the page: ", `${found.pages} pages.`, ...found.remarks].join(" "));
}

function showMap(found) {
  const figure = one("#map"), image = one("img", figure);
  URL.revokeObjectURL(image.src);
  image.src = URL.createObjectURL(new Blob([found.svg], { type: "image/svg+xml" }));
  image.alt = found.words;
  one("figcaption", figure).textContent = found.words;
  figure.hidden = false;
}

let tiltsControl = null;

function findTilts() {
  tiltsControl?.abort();
  tiltsControl = new AbortController();
  const { box, spans, slider } = fields.get("cut.tilt");
  box.classList.add("old");
  if (!one("#tilts").textContent) one("#tilts").textContent = "Looking for the tilts at which it locks.";
  ask("tilts", query(), tiltsControl.signal, () => {}, (found) => {
    box.classList.remove("old");
    const words = one("#tilts");
    if (!found.answer) { spans.replaceChildren(); words.textContent = found.failed || ""; return; }
    words.textContent = found.answer.words;
    const low = Number(slider.min), wide = Number(slider.max) - low;
    const share = (v) => Math.min(Math.max((v - low) / wide, 0), 1) * 100;
    spans.replaceChildren(...["hopeful", "safe"].flatMap((kind) => found.answer[kind].map(([from, to]) => {
      const span = document.createElement("span");
      span.className = kind;
      span.style.left = `${share(from)}%`;
      span.style.width = `${share(to) - share(from)}%`;
      return span;
    })));
  });
}

// ---------------------------------------------------------------- files

async function openFile(kind, file) {
  const told = one("#file-problems");
  told.hidden = true;
  if (!file) return;
  let found;
  try {
    const reply = await fetch(`/open/${kind}`, { method: "POST", body: file });
    found = await reply.json();
    if (!reply.ok) throw new Error(found.failed || found.problems.map((p) => p.text).join("\n"));
  } catch (error) {
    told.textContent = `${file.name}: ${error.message}`;
    told.hidden = false;
    say(told.textContent);
    return;
  }
  if (kind === "bowl") show([...found.pairs, ...carried.filter(([key]) => isLearned(key)), ...pageWords()]);
  else carried = [...carried.filter(([key]) => !isLearned(key)), ...found.pairs];
  showSaw();
  changed();
}

function listenToFiles() {
  for (const kind of ["bowl", "saw"]) {
    one(`#open-${kind}`).addEventListener("change", async (event) => {
      await openFile(kind, event.target.files[0]);
      event.target.value = "";
    });
  }
  one("#no-saw").addEventListener("click", () => {
    carried = carried.filter(([key]) => !isLearned(key));
    showSaw();
    changed();
    one("#open-saw").focus();
  });
  addEventListener("dragover", (event) => event.preventDefault());
  addEventListener("drop", (event) => { event.preventDefault(); openFile("bowl", event.dataTransfer.files[0]); });
}

// ---------------------------------------------------------------- beginning

async function changeUnits(to) {
  const reply = await fetch(`/units?${query().replace(/&units=\w+$/, "")}&units=${to}`);
  if (!reply.ok) return;
  const found = await reply.json();
  show([...found.pairs.filter(([key]) => key !== "units"), ...pageWords().filter(([w]) => w !== "paper"), ["units", to]]);
  changed();
}

async function begin() {
  all(".field[data-key]").forEach(makeField);
  makeJobs();
  listenToFiles();
  const words = await (await fetch("/words")).json();
  one("#woods").replaceChildren(...words.woods.map((name) => new Option(name, name)));
  makeMore(words);
  for (const name of words.finishes) one("#f-finish").add(new Option(name));
  const read = () => show([...new URLSearchParams(location.search)]);
  read();
  addEventListener("popstate", () => { read(); changed(); });
  one("#controls").addEventListener("submit", (event) => event.preventDefault());
  for (const radio of all("#units input")) radio.addEventListener("change", () => changeUnits(radio.value));
  for (const word of [...Object.keys(PAGE), "strip"]) one(`#${word}`).addEventListener("input", remember);
  new ResizeObserver(redraw).observe(one("#drawing"));
  changed();
}

begin();
