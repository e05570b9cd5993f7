"use strict";
// The page asks; everything is worked out in Python. Here values are only carried to and fro and shown.

const REST_MS = 260;
const one = (css, under = document) => under.querySelector(css);
const all = (css, under = document) => [...under.querySelectorAll(css)];
const fields = new Map(); // key -> {box, input, slider, reads, wrong}
const jobs = new Map();
let carried = []; // keys and values of the address for which there is no field: saw file, readings, unknown keys
let units = "in";
let place = "lock";
let overruled = {};

// ---------------------------------------------------------------- numbers as they are written

function fraction(value, parts) {
  let top = Math.round(value * parts), below = parts;
  const whole = Math.floor(top / parts);
  top -= whole * parts;
  while (top && top % 2 === 0) { top /= 2; below /= 2; }
  return [whole || !top ? String(whole) : "", top ? `${top}/${below}` : ""].filter(Boolean).join(" ");
}

const asRule = (mm) => (units === "in" ? `${mm < 0 ? "-" : ""}${fraction(Math.abs(mm) / 25.4, 64)} in` : `${mm.toFixed(1)} mm`);

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
  const field = { box, input: one("input, select", box), slider: null };
  const label = one("label", box);
  field.reads = document.createElement("p");
  field.reads.className = "reads";
  field.wrong = document.createElement("p");
  field.wrong.className = "wrong";
  field.reads.id = `${field.input.id}-reads`;
  field.wrong.id = `${field.input.id}-wrong`;
  field.input.setAttribute("aria-describedby", `${field.wrong.id} ${field.reads.id}`);
  if (box.dataset.unit !== undefined || box.dataset.in) {
    field.slider = document.createElement("input");
    field.slider.type = "range";
    field.slider.setAttribute("aria-label", `${label.textContent}, slider`);
    one("input", box).after(field.slider);
    field.slider.addEventListener("input", () => setField(field, Number(field.slider.value)));
  }
  box.append(field.reads, field.wrong);
  field.input.addEventListener("input", () => { giveWay(field); changed(); });
  field.input.addEventListener("change", () => writeOut(field));
  fields.set(box.dataset.key, field);
}

function setField(field, value) { // in the slider's unit
  field.input.value = rule(field).write(value);
  if (field.slider) {
    field.slider.value = value;
    field.slider.setAttribute("aria-valuetext", field.input.value);
  }
  giveWay(field);
  changed();
}

let typed = {}; // what the server took bare numbers for
const wholes = new Map(); // the same, kept: a bare number and its whole are one value

function learnWholes() {
  for (const [key, whole] of Object.entries(typed)) {
    const field = fields.get(key);
    if (!field) continue;
    const bare = field.box.dataset.list ? field.input.value.split(";") : [field.input.value], parts = field.box.dataset.list ? whole.split(";") : [whole];
    if (bare.length === parts.length) bare.forEach((text, i) => wholes.set(`${units} ${key} ${text.trim()}`, parts[i].trim()));
  }
}

function writeOut(field) { // a bare number gets its unit when the field is left
  const whole = typed[field.box.dataset.key];
  if (whole) { field.input.value = whole; field.reads.classList.add("over"); delete typed[field.box.dataset.key]; remember(false); }
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

let places = {}; // where each quantity stands, in its base unit

function placeSliders() {
  for (const [key, value] of Object.entries(places)) {
    const field = fields.get(key);
    if (!field?.slider || field.slider === document.activeElement) continue;
    const { size, write } = rule(field);
    field.slider.value = value / size;
    field.slider.setAttribute("aria-valuetext", field.input.value || `${write(value / size)}, assumed`);
  }
}

function shownOf(key) { // for a handle on the drawing: how its quantity reads
  const field = fields.get(key), { size, write, low, high } = rule(field), value = (places[key] || 0) / size;
  return { text: field.input.value || write(value), number: +value.toFixed(3), low, high };
}

function movedBy(key, value, steps) { // a handle was dragged to a value in mm or deg, or stepped
  const field = fields.get(key), { size, step, low, high } = rule(field);
  const wished = value === null ? (places[key] / size) + steps * step : value / size;
  const to = Math.min(Math.max(Math.round(wished / step) * step, low), high);
  if (rule(field).write(to) === field.input.value) return;
  places[key] = to * size;
  setField(field, to);
}

// ---------------------------------------------------------------- the address, and the way back

const PAGE = { paper: "", copies: "1", middle: "lowered", lowered: "right", stored: "open", opened: "afresh", since: "" };
const AXES = { mm: { across: "tilt=2..14", up: "kerf=0.4..1.6 mm" }, in: { across: "tilt=2..14", up: "kerf=0.016..0.063 in" } };

function pairs() {
  const found = [];
  for (const [key, { input, box }] of fields) {
    const values = box.dataset.list ? input.value.split(";") : [input.value];
    for (const value of values) if (value.trim()) found.push([key, wholes.get(`${units} ${key} ${value.trim()}`) || value.trim()]);
  }
  return [...found, ...carried, ["units", units]];
}

const written = (list) => list.map(([k, v]) => `${encodeURIComponent(k)}=${encodeURIComponent(v)}`).join("&");
const query = (extra = []) => written([...pairs(), ...extra]);
const usual = (word) => (word === "paper" ? (units === "in" ? "letter" : "a4") : PAGE[word]);

function pageWords() {
  const axes = axisWords();
  return Object.keys(PAGE).map((word) => [word, one(`#${word}`).value.trim()])
    .filter(([word, value]) => value && value !== usual(word))
    .concat(Object.entries(AXES[units]).map(([word, value]) => [word, axes[word], value]).filter(([, value, unmoved]) => value !== unmoved).map(([word, value]) => [word, value]))
    .concat(one("#ranges").checked ? [["ranges", "yes"]] : [])
    .concat(one("#by-itself").checked ? [] : [["slow", "asked"]])
    .concat(place === "lock" ? [] : [["place", place]]);
}

function show(list) { // put keys and values into the fields
  const left = new Map();
  for (const [key, value] of list) left.set(key, [...(left.get(key) || []), value]);
  if (left.has("units")) units = left.get("units")[0] === "mm" ? "mm" : "in";
  else units = /m$/.test((left.get("board.thickness") || [""])[0].trim()) ? "mm" : "in";
  left.delete("units");
  one("#by-itself").checked = !left.delete("slow");
  one("#ranges").checked = left.delete("ranges");
  const wanted = left.get("place")?.[0] || "lock";
  left.delete("place");
  for (const word of Object.keys(PAGE)) {
    one(`#${word}`).value = left.get(word)?.[0] ?? usual(word);
    left.delete(word);
  }
  for (const [word, value] of Object.entries(AXES[units])) { showAxis(word, left.get(word)?.[0] ?? value); left.delete(word); }
  for (const [key, { input }] of fields) {
    const value = (left.get(key) || []).join("; ");
    if (input.tagName === "SELECT" && value && ![...input.options].some((o) => o.value === value)) input.add(new Option(value));
    input.value = value;
    left.delete(key);
  }
  carried = [...left].flatMap(([key, values]) => values.map((value) => [key, value]));
  one(`#units input[value=${units}]`).checked = true;
  typed = {};
  testUnits();
  if (measures.size) tellHow();
  showCarried();
  setSliders();
  goTo(wanted);
}

function showCarried() {
  showSaw();
  showFindings();
  showTests();
  showKept();
}

// Keys of a file of what was learned: a saw file, or what other tests taught.
const isLearned = ([key]) => /^(saw|friction|strength|moisture)\./.test(key);

function showSaw() {
  const known = new Map(carried.filter(isLearned));
  one("#no-saw").hidden = !known.size;
  const said = [], named = known.get("saw.name") || "the file";
  if (known.has("saw.kerf")) said.push(`Sawn with ${named}: Tilt is what its scale reads, the kerf is the saw’s own.`);
  const tests = ["friction", "strength", "moisture"].filter((table) => [...known.keys()].some((key) => key.startsWith(`${table}.`)));
  if (tests.length) said.push(`From the tests ${named}: ${tests.join(", ")}.`);
  one("#saw").textContent = said.join(" ");
}

let explained = {}; // words of the trade in a sentence or two

function explainWords() { // where a word stands: behind a ? beside its field, below a picture or a table
  for (const box of all(".field[data-word]")) {
    const word = box.dataset.word, label = one("label", box), input = one("input, select", box);
    const more = document.createElement("p"), what = document.createElement("button"), named = document.createElement("span");
    Object.assign(more, { className: "means quiet", id: `${input.id}-means`, textContent: explained[word], hidden: true });
    Object.assign(what, { type: "button", className: "what", textContent: "?" });
    what.setAttribute("aria-label", `What is meant by ${word}?`);
    what.setAttribute("aria-expanded", "false");
    what.setAttribute("aria-controls", more.id);
    what.addEventListener("click", () => { more.hidden = !more.hidden; what.setAttribute("aria-expanded", String(!more.hidden)); });
    named.className = "named";
    label.before(named);
    named.append(label, what);
    input.after(more);
  }
  const lists = { "#marks": ["root", "nail", "grain", "worst place"], "#change-words": ["root", "pitch"],
    "#table-words": ["rise", "kerf", "tilt", "bevel", "overlap", "friction used", "friction", "press", "split chance"] };
  for (const [css, words] of Object.entries(lists)) {
    one(css).replaceChildren(...words.flatMap((word) => [Object.assign(document.createElement("dt"), { textContent: word }), Object.assign(document.createElement("dd"), { textContent: explained[word] })]));
  }
}

const trail = []; // every address of this window, oldest first, with the bowl it holds
let step = 0;
const bowlOf = () => written(pairs());

function remember(settled = true) { // settled: a step that can be undone
  if (!settled && resting) return; // a change that can be undone is on its way
  const address = `/?${query(pageWords())}`, bowl = bowlOf(), here = trail[step];
  if (here && (address !== here.address)) {
    if (settled && (bowl !== here.bowl || place !== here.place)) {
      trail.splice(++step, Infinity, { address, bowl, place });
      history.pushState({ step }, "", address);
    } else {
      trail[step] = { address, bowl, place };
      history.replaceState({ step }, "", address);
    }
  } else if (!here) {
    trail[step] = { address, bowl, place };
    history.replaceState({ step }, "", address);
  }
  one("#save").href = `/bowl.toml?${query()}`;
  one("#line").href = `/line.svg?${query(pageWords().filter(([w]) => w === "middle" || w === "lowered"))}`;
  showTrail();
}

const undoTo = () => trail.slice(0, step).findLastIndex((at) => at.bowl !== trail[step].bowl);
const redoTo = () => { const found = trail.slice(step + 1).findIndex((at) => at.bowl !== trail[step].bowl); return found < 0 ? -1 : step + 1 + found; };

function showTrail() {
  one("#undo").disabled = undoTo() < 0;
  one("#redo").disabled = redoTo() < 0;
}

function popped(event) {
  if (Number.isInteger(event.state?.step) && trail[event.state.step]) step = event.state.step;
  show([...new URLSearchParams(location.search)]);
  changed(false);
  showTrail();
  say("Back to the bowl of this address.");
}

// ---------------------------------------------------------------- places

const scrolled = new Map();

function goTo(wanted) {
  const to = one(`#place-${CSS.escape(wanted)}`) ? wanted : "lock";
  if (to !== place) scrolled.set(place, scrollY);
  const other = to !== place;
  place = document.body.dataset.place = to;
  for (const section of all(".place")) section.hidden = section.id !== `place-${place}`;
  for (const link of all("#places a")) {
    if (link.dataset.place === place) link.setAttribute("aria-current", "page"); else link.removeAttribute("aria-current");
  }
  if (other) scrollTo(0, scrolled.get(place) || 0);
  const current = one("#places a[aria-current]");
  if (other) current.parentElement.scrollLeft = current.offsetLeft - 20;
  drawAll();
  if (place === "guide") openGuide();
}

function drawAll() { section?.draw(); for (const shown of [space, beside]) shown?.draw(); }

// ---------------------------------------------------------------- while a control moves

let asking = false, again = false, resting = 0, space = null, beside = null, section = null;
let shownFor = ""; // the bowl whose verdict is on screen
const answers = new Map(); // the last bowls' verdicts, so that going back is at once

const verdictKey = () => written(pairs().filter(([key]) => key !== "name" && !/^(room|seen|measured|tests|weather|want)\./.test(key)));

function changed(settled = true) {
  clearTimeout(resting);
  resting = setTimeout(() => rested(settled), REST_MS);
  freshen();
  redraw();
}

function freshen() { // what belongs to another bowl is seen to be old
  const key = verdictKey(), known = answers.get(key);
  if (known && shownFor !== key) { jobs.get("verdict").stop(); showWhole(known, key); }
  document.body.classList.toggle("old", shownFor !== key);
  if (shownFor !== key) {
    if (jobs.get("verdict").control && jobs.get("verdict").asked && jobs.get("verdict").asked !== key) {
      jobs.get("verdict").stop();
      if (!resting) resting = setTimeout(() => rested(false), REST_MS);
    }
    one("#age").textContent = shownFor ? "This is the bowl before your last change." : "";
    if (!shownFor) one("#verdict").textContent = jobs.get("verdict").control || one("#by-itself").checked ? "Being worked out" : "Not worked out yet";
  } else if (!jobs.get("verdict").control) one("#age").textContent = "";
  for (const job of jobs.values()) job.freshen();
  jobs.get("verdict").idle();
}

let reading = null; // until the newest state of the fields is read

function redraw() {
  again = true;
  if (!asking) reading = readOn();
}

async function readOn() {
  asking = true;
  while (again) {
    again = false;
    try {
      const reply = await fetch(`/now?${query()}`);
      const found = await reply.json();
      if (again) continue;
      if (reply.ok) showNow(found); else showProblems(found);
    } catch {
      showProblems({ failed: "The page’s server does not answer: start it again, then reload. Your bowl is in the address." });
    }
  }
  asking = false;
}

function showNow(found) {
  document.body.classList.remove("unread");
  for (const field of fields.values()) clearWrong(field);
  one("#problems").hidden = true;
  sectionNow = found.section;
  putSection();
  places = found.places;
  typed = found.typed;
  learnWholes();
  overruled = found.overruled;
  for (const [key, field] of fields) {
    const by = overruled[key];
    for (const control of [field.input, field.slider]) if (control) control.disabled = Boolean(by);
    field.box.classList.toggle("overruled", Boolean(by));
    const assumed = !field.input.value && found.assumed[key];
    if (!by && typed[key] && document.activeElement !== field.input) { writeOut(field); continue; }
    field.reads.classList.remove("over");
    field.reads.textContent = by ? `not used: ${by}` : assumed ? `assumed: ${assumed}`
      : typed[key] ? `that is ${typed[key]}` : found.reads[key] ? `that is ${found.reads[key]}` : "";
  }
  placeSliders();
  showOutline();
  section.draw();
  mapShown?.move();
  freshen();
}

function showOutline() { // fields that only some outlines have; what is filled in stays to be seen
  const outline = one("#f-outline").value || "round";
  for (const box of all(".field[data-only]")) box.hidden = !box.dataset.only.split(" ").includes(outline) && !one("input, select", box).value;
  const across = fields.get("board.across").box;
  across.hidden = ["oval", "rectangle"].includes(outline) && !one("input", across).value;
}

let sectionNow = null;

function putSection() { // open as it stands by the strip, where that is known of this very bowl
  const known = answers.get(verdictKey())?.verdict.section;
  section.put({ ...sectionNow, ...(known ? { met: known.pieces, words: known.words } : { words: "bevels met; how they stay is being worked out" }) });
}

function clearWrong(field) { field.wrong.textContent = ""; field.input.removeAttribute("aria-invalid"); }

function markProblems(problems) { // each beside its field; gives back those that have none
  const elsewhere = [];
  for (const { key, text } of problems) {
    const field = fields.get(key);
    if (!field) { elsewhere.push(key && !text.includes(key) ? `${key.replace(/^.*\./, "").replaceAll("_", " ")}: ${text}` : text); continue; }
    field.wrong.textContent = [field.wrong.textContent, text].filter(Boolean).join("\n");
    field.input.setAttribute("aria-invalid", "true");
    field.box.closest("details")?.setAttribute("open", "");
    field.box.hidden = false;
  }
  return elsewhere;
}

function showProblems({ problems = [], failed }) {
  showOutline();
  document.body.classList.add("unread");
  for (const field of fields.values()) clearWrong(field);
  const elsewhere = [...(failed ? [failed] : []), ...markProblems(problems)];
  one("#problems").hidden = !elsewhere.length;
  one("#problems").textContent = elsewhere.join("\n");
  const wrong = one("[aria-invalid=true]");
  const named = wrong && one(`label[for=${wrong.id}]`).textContent;
  one("#age").textContent = `${named ? `${named} cannot be read` : elsewhere[0] || "This bowl cannot be worked out"}: what is shown is the last bowl that could.`;
}

// ---------------------------------------------------------------- when the controls rest

function rested(settled) {
  resting = 0;
  remember(settled);
  if (document.body.classList.contains("unread")) {
    say(all(".wrong").map((p) => p.textContent).filter(Boolean).join(" ") || one("#problems").textContent);
    return;
  }
  if (shownFor === verdictKey() && !jobs.get("verdict").control) { jobs.get("verdict").idle(); return; }
  if (!one("#by-itself").checked) { jobs.get("verdict").idle(); return; }
  if (jobs.get("verdict").asked === verdictKey() && jobs.get("verdict").control) return;
  jobs.get("verdict").start();
}

function say(text) { one("#said").textContent = text; }

// One slow question at a time of each kind. Hanging up ends the work on the other side.
class Job {
  constructor(kind, { extra = () => [], key, body = () => null, before = () => {}, part = () => {}, done, result, changes = "" }) {
    const box = one(`.work[data-job=${kind}]`);
    Object.assign(this, { kind, box, extra, body, before, part, done, control: null, asked: "", shown: "" });
    this.key = key || (() => written([...pairs(), ...this.extra()].filter(([k]) => !changes || !changes.test(k))));
    this.result = result;
    one(".start", box).addEventListener("click", () => this.start());
    one(".stop", box).addEventListener("click", () => { this.stop(); this.tell("Stopped."); one(".start", box).focus(); });
  }
  tell(text, aloud = true) { // counts that go on are not read out one by one
    const told = one(".told", this.box);
    told.setAttribute("aria-live", aloud ? "polite" : "off");
    told.textContent = text;
  }
  busy(on) {
    const bar = one("progress", this.box);
    bar.hidden = !on;
    bar.removeAttribute("value");
    one(".stop", this.box).hidden = !on;
    one(".start", this.box).hidden = on || !this.wanted();
    markPlaces();
  }
  wanted() { return true; } // whether there is anything to start
  told(line, seconds) {
    const count = /(\d+) of (\d+)/.exec(line), bar = one("progress", this.box);
    if (count && +count[2]) { bar.max = +count[2]; bar.value = +count[1]; } else bar.removeAttribute("value");
    this.tell(`${line[0].toUpperCase()}${line.slice(1)} (${seconds < 90 ? `${seconds} s` : `${Math.floor(seconds / 60)} min ${seconds % 60} s`})`, false);
  }
  idle() { this.busy(this.control !== null); }
  stop() {
    this.control?.abort();
    this.control = null;
    this.busy(false);
    this.tell("");
  }
  freshen() {
    if (this.control && this.asked && this.asked !== this.key()) { this.stop(); this.tell("Stopped: the bowl was changed."); }
    if (!this.result) return;
    const old = Boolean(this.result.childElementCount) && this.shown !== this.key();
    this.result.classList.toggle("stale", old);
    this.result.inert = false;
    if (old) this.result.dataset.age = "This belongs to the bowl before your last change. Ask again for this one."; else delete this.result.dataset.age;
  }
  async start() {
    this.stop();
    this.before();
    const control = (this.control = new AbortController());
    this.asked = "";
    this.busy(true);
    if (this.kind !== "verdict") { // what was typed last is read first, so that a bare number is whole
      await reading;
      if (this.control !== control) return;
      for (const field of fields.values()) if (field.input !== document.activeElement) writeOut(field);
    }
    const key = (this.asked = this.key());
    const began = performance.now();
    await ask(this.kind, query(this.extra()), control.signal, (line) => {
      if (this.control === control) this.told(line, Math.round((performance.now() - began) / 1000));
    }, (found) => { if (this.control === control) this.part(found, key, this); }, (found) => {
      if (this.control !== control) return;
      this.control = null;
      this.busy(false);
      if (found.answer) { this.tell(""); this.shown = key; this.done(found.answer, this, key); this.freshen(); return; }
      this.tell(found.failed || markProblems(found.problems).join("\n") || "See the marked field.");
    }, this.body());
  }
}

function markPlaces() { // the tab of a place where something is being worked out says so
  for (const link of all("#places a")) {
    const busy = [...jobs.values()].some((job) => job.control && job.kind !== "verdict" && job.box.closest(".place")?.id === `place-${link.dataset.place}`);
    link.classList.toggle("busy", busy);
    if (busy) link.title = "Being worked out"; else link.removeAttribute("title");
  }
}

async function ask(kind, asked, signal, told, part, done, body = null) {
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
        if (news.told) told(news.told); else if (news.part) part(news.part); else done(news);
      }
    }
  } catch (error) {
    if (!signal.aborted) done({ failed: "The page’s server does not answer." });
  }
}

// ---------------------------------------------------------------- the verdict

let stopped = ""; // the bowl whose verdict was stopped by hand
let parts = {}; // what is ready of the verdict that is worked out

function takePart(found, key) {
  if (!parts.key || parts.key !== key) parts = { key };
  Object.assign(parts, found);
  if (key !== verdictKey()) return;
  if (found.middle) {
    headline({ ...found.middle, best: found.middle.state, depends: "with everything known as a range at its middle; the ends are being tried" });
    shownFor = key;
    document.body.classList.remove("old");
    document.body.classList.add("middle", "known");
    one("#age").textContent = "";
  }
  if (found.space) showSpace(found.space, key);
}

function takeVerdict(found, _job, key) {
  const whole = { verdict: found, space: parts.key === key ? parts.space : null };
  answers.set(key, whole);
  if (answers.size > 24) answers.delete(answers.keys().next().value);
  if (key !== verdictKey()) return;
  showWhole(whole, key, false);
  say(`${found.line}. ${found.rise === "none" ? "" : `Rise, let go: ${found.rise}.`}`);
}

function showWhole({ verdict, space: made }, key, again = true) {
  shownFor = key;
  document.body.classList.remove("old", "middle");
  document.body.classList.add("known");
  one("#age").textContent = "";
  headline(verdict);
  one("#why").textContent = verdict.why;
  list("#settle", verdict.settle);
  list("#notes", verdict.notes);
  one("#margins").replaceChildren(...verdict.margins.map(marginOf));
  rows("#pressing", verdict.pressing);
  rows("#bowl-table", verdict.bowl);
  rows("#saw-table", verdict.saw);
  if (sectionNow) putSection();
  one("#turn-table").replaceChildren(tableOf(verdict.turns));
  if (made && again) showSpace(made, key);
  jobs.get("verdict").idle();
  document.title = `${verdict.line}: ${one("#f-name").value || "one-cut ring bowl"}`;
}

function headline(found) {
  const verdict = one("#verdict"), [states, depends = ""] = found.line.split(": ");
  verdict.textContent = states;
  one("#depends").textContent = found.depends && !depends ? found.depends : depends;
  const plate = one("#plate");
  plate.dataset.state = found.state;
  plate.dataset.best = found.best || found.state;
  one("#rise").textContent = found.rise;
  one("#rise-of").textContent = found.rise_of;
}

let lastSpace = null;

function showSpace(found, key) {
  const made = Space.made(found);
  if (lastSpace && lastSpace.key !== key) space.ghost = one("#ghost").checked ? lastSpace.made : null;
  ghostOf = lastSpace && lastSpace.key !== key ? lastSpace.made : ghostOf;
  lastSpace = { key, made };
  space.put(made);
  const slider = one("#path"), many = made.states.length > 1;
  slider.disabled = !many;
  slider.max = many ? made.knots.at(-1) : 1;
  const atEnd = space.at >= 1000;
  space.at = atEnd ? Math.max(made.knots.at(-1), 1000) : space.at;
  slider.value = Math.min(space.at, slider.max);
  one("#stop-end").textContent = made.end === "springs back" ? "springs back" : made.end === "let go" ? "let go" : "";
  one("#stop-pressed").textContent = made.end === "falls through" ? "falls through" : many ? "pressed" : "";
  one("#stop-pressed").style.left = "";
  one(".stops").dataset.end = made.knots.at(-1) > 1000 ? "let go" : "pressed";
  if (beside.bowl) beside.at = Math.min(space.at, beside.end());
  pathWords();
}

let ghostOf = null;

function pathWords() {
  const made = space.bowl;
  if (!made) return;
  const [from, to, part] = space.between(), a = made.states[from], b = made.states[to], nearer = part > 0.5 ? b : a;
  const mix = (name) => a[name] + part * (b[name] - a[name]);
  const force = (n) => (units === "in" ? `${n.toFixed(n < 10 ? 1 : 0)} N (${(n / 4.448222).toFixed(1)} lbf)` : `${n.toFixed(n < 10 ? 1 : 0)} N`);
  const exact = part < 1e-6 || part > 1 - 1e-6;
  const words = {
    flat: "Flat, as sawn", pressed: `Pressed with ${force(mix("press_N"))}`, "falls through": `Falls through at ${force(mix("press_N"))}`,
    "let go": one("#plate").dataset.state === "locks" ? "Let go: it stays" : "Let go after this press, with friction at its middle: it stays", "springs back": "Let go: it springs back",
  }[exact ? nearer.name : b.name === "let go" || b.name === "springs back" ? "letting" : a.name === "flat" || b.name === "pressed" || b.name === "falls through" ? "pressed" : b.name]
    || "The press is being taken away";
  const used = Math.max(...(nearer.work || [0]));
  one("#path-words").textContent = `${words}; rim up ${asRule(mix("rise_mm"))}${exact ? "" : ", between two calculated states"}.`
    + (made.end === "falls through" && to === made.states.length - 1 && part > 0.98 ? " A turn drops past its neighbour; what comes after is not calculated." : "")
    + (made.end === "slides back out of sight" && space.at >= 1000 ? " Let go it slides back, out of sight of the calculation." : "")
    + (made.end === "will not open" ? " No slot is left: it will not open." : "")
    + (made.end === "not followed" ? " The strip could not be followed from here." : "");
  one("#path").setAttribute("aria-valuetext", one("#path-words").textContent);
  const about = `${words}. Hardest worked: ${made.worst?.words || "nothing"}, ${Math.round(used * 100)} % of mean strength. Root, nail and grain are marked. Arrow keys turn it.`;
  one("#space canvas").setAttribute("aria-label", `The bowl in space. ${about}`);
  one("#space-words").textContent = made.worst && nearer.name !== "flat" ? `Works hardest: ${made.worst.words}; now at most ${Math.round(used * 100)} % of mean strength.` : "Turn it by hand, or with the arrow keys.";
}

function moveTo(at) {
  space.at = at;
  one("#path").value = at;
  if (beside.bowl) { beside.at = at >= 1000 ? beside.end() : Math.min(at, beside.end()); beside.draw(); }
  space.draw();
  pathWords();
}

function marginOf(margin) {
  const item = document.createElement("li");
  item.dataset.word = margin.word;
  item.dataset.state = margin.state;
  const put = (kind, text) => {
    const span = document.createElement("span");
    span.className = kind;
    span.textContent = text;
    item.append(span);
    return span;
  };
  put("state", margin.state);
  const bar = put("bar", "");
  bar.setAttribute("aria-hidden", "true");
  const middle = document.createElement("b"), reach = document.createElement("i");
  middle.style.width = `${100 * margin.middle}%`;
  reach.style.left = `${100 * margin.best}%`;
  reach.style.width = `${100 * Math.max(margin.worst - margin.best, 0)}%`;
  bar.append(middle, reach);
  put("word", margin.word);
  put("words", margin.reach ? `${margin.words}; ${margin.reach}` : margin.words);
  put("means", explained[margin.quantity] || "");
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

// ---------------------------------------------------------------- two bowls side by side

let setAside = null; // {list, verdict words}

function setBeside() {
  if (!lastSpace) return;
  setAside = { list: [...pairs()] };
  one("#other").hidden = false;
  one("#other-verdict").textContent = one("#verdict").textContent;
  one("#other-words").textContent = `${one("#f-name").value}; rise, let go: ${one("#rise").textContent}. ${setAside.list.filter(([k]) => /^(cut|board)\.(tilt|kerf|pitch|turns|base|thickness|across)$/.test(k)).map(([k, v]) => `${k.split(".")[1]} ${v}`).join(", ")}`;
  beside.put(lastSpace.made);
  beside.at = space.at;
  beside.yaw = space.yaw;
  beside.lift = space.lift;
  requestAnimationFrame(drawAll);
  say("Set beside; change the bowl and compare.");
}

function takeBack() {
  if (!setAside) return;
  show([...setAside.list, ...pageWords()]);
  changed();
}

// ---------------------------------------------------------------- files

let weather = null, causesTable = null; // Files; each is read by the server for one question and stays in this window

async function openFile(file) {
  if (!file) return;
  const beginning = await file.slice(0, 400).text();
  let told = "";
  if (/^\ufeff?LOCATION\s*,/i.test(beginning)) {
    weather = file;
    told = `${file.name} is a weather file; it is used in Through the year.`;
    showWeather();
  } else if (/^\ufeff?cause\s*,/i.test(beginning)) {
    causesTable = file;
    told = `${file.name} is a table of causes; it is used in Why did it fail?`;
    showCauses();
  } else {
    try {
      const reply = await fetch("/open", { method: "POST", body: file });
      const found = await reply.json();
      if (!reply.ok) throw new Error(found.failed || found.problems.map((p) => p.text).join("\n"));
      remember();
      if (found.kind === "bowl") {
        show([...found.pairs, ...carried.filter((pair) => isLearned(pair)), ...pageWords()]);
        told = `${file.name} is a bowl file; Undo brings the bowl before back.`;
      } else if (found.kind === "saw") {
        carried = [...carried.filter((pair) => !isLearned(pair)), ...found.pairs];
        told = `${file.name} holds what was learned; fields that it overrules say so.`;
      } else {
        carried = [...carried.filter(([key]) => !key.startsWith("tests.")), ...found.pairs];
        told = `${file.name} is a file of tests; its readings stand under Test cuts.`;
        goTo("tests");
      }
      showCarried();
      changed();
    } catch (error) {
      told = `${file.name}: ${error.message}`;
    }
  }
  one("#file-told").textContent = told;
  one("#file-told").hidden = false;
  freshen();
}

function listenToFiles() {
  one("#open-file").addEventListener("change", async (event) => {
    await openFile(event.target.files[0]);
    event.target.value = "";
  });
  one("#no-saw").addEventListener("click", () => {
    carried = carried.filter((pair) => !isLearned(pair));
    showCarried();
    changed();
    one("#open-file").focus();
  });
  addEventListener("dragover", (event) => event.preventDefault());
  addEventListener("drop", async (event) => { event.preventDefault(); for (const file of event.dataTransfer.files) await openFile(file); });
}

// ---------------------------------------------------------------- beginning

async function changeUnits(to) {
  const reply = await fetch(`/units?${query().replace(/&units=\w+$/, "")}&units=${units}&to=${to}`);
  if (!reply.ok) { one(`#units input[value=${units}]`).checked = true; return; }
  const found = await reply.json();
  show([...found.pairs.filter(([key]) => key !== "units"), ...pageWords().filter(([w]) => w !== "paper"), ["units", to]]);
  changed();
  pathWords();
}

function makeStage() {
  space = new Space(one("#space canvas"));
  beside = new Space(one("#other canvas"));
  const together = (from) => { // both turn alike
    for (const other of [space, beside]) if (other !== from) { other.yaw = from.yaw; other.lift = from.lift; other.draw(); }
  };
  space.moved = beside.moved = together;
  section = new Section(one("#drawing"), movedBy, shownOf);
  one("#path").addEventListener("input", (event) => moveTo(Number(event.target.value)));
  one("#ghost").addEventListener("change", () => { space.ghost = one("#ghost").checked ? ghostOf : null; space.draw(); });
  one("#upright").addEventListener("click", () => { space.turnBack(); space.draw(); together(space); });
  one("#set-beside").addEventListener("click", setBeside);
  one("#other-back").addEventListener("click", takeBack);
  one("#other-away").addEventListener("click", () => { setAside = null; beside.bowl = null; one("#other").hidden = true; requestAnimationFrame(drawAll); one("#set-beside").focus(); });
  jobs.set("verdict", new Job("verdict", { key: verdictKey, part: takePart, done: takeVerdict }));
  // It stands only where the verdict of this bowl is not there and does not come by itself.
  jobs.get("verdict").wanted = () => shownFor !== verdictKey() && !document.body.classList.contains("unread") && (!one("#by-itself").checked || stopped === verdictKey());
  one(".stop", jobs.get("verdict").box).addEventListener("click", () => { stopped = verdictKey(); jobs.get("verdict").idle(); one(".start", jobs.get("verdict").box).focus(); });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", drawAll);
}

async function begin() {
  all(".field[data-key]").forEach(makeField);
  makeStage();
  makePlaces();
  listenToFiles();
  const words = await (await fetch("/words")).json();
  for (const name of words.woods) one("#f-wood").add(new Option(name, name));
  for (const name of words.finishes) one("#f-finish").add(new Option(name));
  explained = words.explained;
  explainWords();
  offerWords(words);
  show([...new URLSearchParams(location.search)]);
  remember();
  addEventListener("popstate", popped);
  one("#undo").addEventListener("click", () => { const to = undoTo(); if (to >= 0) history.go(to - step); });
  one("#redo").addEventListener("click", () => { const to = redoTo(); if (to >= 0) history.go(to - step); });
  addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z" || /^(text|)$/.test(event.target.type ?? "no")) return;
    event.preventDefault();
    one(event.shiftKey ? "#redo" : "#undo").click();
  });
  for (const form of all("form")) form.addEventListener("submit", (event) => event.preventDefault());
  for (const link of all("#places a")) link.addEventListener("click", (event) => {
    event.preventDefault();
    goTo(link.dataset.place);
    remember();
    if (event.detail === 0) one(`#t-${link.dataset.place}`).focus({ preventScroll: true }); // by key: the next stop lies in the place
  });
  for (const radio of all("#units input")) radio.addEventListener("change", () => changeUnits(radio.value));
  for (const word of [...Object.keys(PAGE), "ranges"]) one(`#${word}`).addEventListener("input", () => { remember(false); freshen(); });
  one("#by-itself").addEventListener("change", () => rested(false));
  changed(false);
  clearTimeout(resting);
  rested(false); // the first verdict need not wait for the controls to rest
}

begin();
