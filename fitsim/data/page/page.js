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
  if (field.input.tagName === "INPUT") field.input.placeholder = " "; // so that an empty one is known, and left out on paper
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

// What the server took bare numbers for, by units, field and text: a bare number and its whole are one value, and
// what one text was taken for is never written over another.
const wholes = new Map();

function learnWholes(asked, typed) { // from the answer to what was asked, whatever stands in the fields by now
  const told = Object.fromEntries(asked).units;
  for (const [key, whole] of Object.entries(typed)) {
    const sent = asked.filter(([k]) => k === key), parts = whole.split("; ");
    sent.forEach(([, text], i) => wholes.set(`${told} ${key} ${text}`, parts[i]));
  }
}

const partsOf = ({ input, box }) => (box.dataset.list ? input.value.split(";") : [input.value]).map((text) => text.trim()).filter(Boolean);
const wholePart = (key, text) => wholes.get(`${units} ${key} ${text}`) ?? text;

function wholeOf(field) { // what stands in a field with its units; nothing where it is whole already, or not read yet
  const parts = partsOf(field), whole = parts.map((text) => wholePart(field.box.dataset.key, text));
  return whole.some((text, i) => text !== parts[i]) ? whole.join("; ") : "";
}

function writeOut(field) { // a bare number gets its unit when the field is left
  const whole = wholeOf(field);
  if (whole) { field.input.value = whole; field.reads.classList.add("over"); remember(false); }
  return whole;
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
  for (const [key, field] of fields) for (const part of partsOf(field)) found.push([key, wholePart(key, part)]);
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
  const said = [], name = known.get("saw.name"), named = name ? `“${name}”` : "the file that was opened";
  one("#save-learned").hidden = !known.size;
  if (known.has("saw.kerf")) said.push(`The saw is that of ${named}: Tilt is what its scale reads, the kerf is the saw’s own.`);
  const tests = ["friction", "strength", "moisture"].filter((table) => [...known.keys()].some((key) => key.startsWith(`${table}.`)));
  if (tests.length) said.push(`Taken from ${named}: ${tests.join(", ")}.`);
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
  one("#save-learned").href = `/learned.toml?${query()}`;
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
let shownFor = ""; // the bowl whose verdict is on screen, with its ranges at their middle at first
let wholeFor = ""; // the bowl whose whole answer is on screen
let unreadWords = ""; // what cannot be read or does not fit
const answers = new Map(); // the last bowls' verdicts, so that going back is at once

// What an answer hangs on: the bowl, whatever else it reads, and last the units that it is told in. A value that was
// only written in other units is the one that it was before.
const alias = new Map(); // "key value" -> the value as it was written first
const bowlPairs = () => pairs().filter(([key]) => key !== "name" && key !== "units" && !/^(room|seen|measured|tests|weather|want)\./.test(key));
const asFirst = ([key, value]) => [key, alias.get(`${key} ${value}`) ?? value];
const keyOf = (list) => `${written(list.map(asFirst))}&units=${units}`;
const verdictKey = () => keyOf(bowlPairs());
const apartFromUnits = (key) => key.replace(/&units=\w+$/, "");
const sameBowl = (one, other) => apartFromUnits(one) === apartFromUnits(other);

function changed(settled = true) {
  clearTimeout(resting);
  resting = setTimeout(() => rested(settled), REST_MS);
  freshen();
  redraw();
}

function freshen() { // what belongs to another bowl is seen to be old
  const key = verdictKey(), known = answers.get(key), job = jobs.get("verdict");
  if (known && wholeFor !== key) { job.stop(); showWhole(known, key); }
  if (shownFor !== key) {
    if (job.control && job.asked && job.asked !== key) {
      job.stop();
      if (!resting) resting = setTimeout(() => rested(false), REST_MS);
    }
    if (!shownFor) one("#verdict").textContent = waits();
  }
  showAge();
  for (const job of jobs.values()) job.freshen();
  job.idle();
}

const comes = () => Boolean(jobs.get("verdict").control) || (one("#by-itself").checked && stopped !== verdictKey()); // the verdict, by itself
const waits = () => (comes() ? "Being worked out" : "Not worked out yet");

function showAge() { // whether verdict, answers and bowl in space are those of the fields, for eye, ear and the window's title
  const key = verdictKey(), old = shownFor !== key, same = old && shownFor !== "" && sameBowl(shownFor, key);
  const late = !old && lastSpace !== null && !sameBowl(lastSpace.key, key), { classList } = document.body;
  for (const [word, on] of [["old", old], ["rewritten", same], ["old-space", late]]) classList.toggle(word, on);
  one("#age").textContent = unreadWords || (same ? `This is the same bowl, told in ${units === "in" ? "mm" : "inches"}.`
    : old && shownFor ? "This is the bowl before your last change." : late ? "The bowl in space is still the one before your last change." : "");
  const middle = classList.contains("middle"), set = one("#set-beside");
  set.disabled = Boolean(unreadWords) || wholeFor !== key || lastSpace === null || late;
  set.title = set.disabled ? "When the verdict of this bowl is there" : "";
  const line = unreadWords ? "Not worked out yet" : old ? waits() : middle ? `${one("#verdict").textContent}, the ends not tried yet` : lineShown;
  document.title = `${line}: ${one("#f-name").value.trim() || "one-cut ring bowl"}`;
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
      const asked = pairs();
      const reply = await fetch(`/now?${written(asked)}`);
      const found = await reply.json();
      if (found.typed) learnWholes(asked, found.typed);
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
  unreadWords = "";
  problemsNow = [];
  showMarks();
  one("#problems").hidden = true;
  sectionNow = found.section;
  putSection();
  places = found.places;
  overruled = found.overruled;
  for (const [key, field] of fields) {
    const by = overruled[key];
    for (const control of [field.input, field.slider]) if (control) control.disabled = Boolean(by);
    field.box.classList.toggle("overruled", Boolean(by));
    const assumed = !field.input.value && found.assumed[key];
    if (!by && document.activeElement !== field.input && writeOut(field)) continue;
    field.reads.classList.remove("over");
    field.reads.textContent = by ? `not used: ${by}` : assumed ? `assumed: ${assumed}` : readsOf(key, found);
  }
  placeSliders();
  showOutline();
  section.draw();
  mapShown?.move();
  freshen();
}

function readsOf(key, found) { // what was taken for what is written, and how that is in the units chosen
  const words = found.unreadable?.includes(key) ? [] : [wholeOf(fields.get(key)), found.reads[key]].filter(Boolean);
  return words.length ? `that is ${words.join(", ")}` : "";
}

function showOutline() { // fields that only some outlines have; what is filled in stays to be seen
  const outline = one("#f-outline").value || "round";
  for (const box of all(".field[data-only]")) box.hidden = !box.dataset.only.split(" ").includes(outline) && !one("input, select", box).value;
  const across = fields.get("board.across").box;
  across.hidden = ["oval", "rectangle"].includes(outline) && !one("input", across).value;
}

let sectionNow = null;

function putSection() { // open as it stands by the strip, where that is known of this very bowl
  if (!sectionNow) return;
  const known = answers.get(verdictKey())?.verdict.section;
  section.put({ ...sectionNow, ...(known ? { met: known.pieces, words: known.words } : { words: `bevels met; how they stay is ${comes() ? "being worked out" : "not worked out yet"}` }) });
}

const marks = new Map(); // key -> what is marked where a problem belongs to no field of the bowl
let problemsNow = []; // with the bowl as it stands; those of a slow question are its job's

function clearWrong({ wrong, input, inputs = [input] }) {
  wrong.textContent = "";
  for (const each of inputs) each.removeAttribute("aria-invalid");
}

function showMarks() { // everything that is wrong, each thing once
  for (const marked of [...fields.values(), ...marks.values()]) clearWrong(marked);
  for (const { key, text } of [...problemsNow, ...[...jobs.values()].flatMap((job) => job.problems)]) {
    const marked = fields.get(key) ?? marks.get(key);
    if (!marked) continue;
    const { wrong, input, inputs = [input], box } = marked;
    wrong.textContent = [...new Set([...wrong.textContent.split("\n"), text])].filter(Boolean).join("\n");
    for (const each of inputs) each.setAttribute("aria-invalid", "true");
    box.closest("details")?.setAttribute("open", "");
    box.hidden = false;
  }
}

const fieldName = ({ input }) => { const label = one(`label[for=${input.id}]`); return label.dataset.said || label.textContent; };
const unplaced = ({ key, text }) => (key && !text.includes(key) ? `${key.replace(/^.*\./, "").replaceAll("_", " ")}: ${text}` : text);
const isUnder = (key) => ([k]) => k === key || k.startsWith(`${key}.`);

function showProblems({ problems = [], failed, ...found }) {
  showOutline();
  document.body.classList.add("unread");
  problemsNow = problems;
  showMarks();
  const elsewhere = problems.filter(({ key }) => !fields.has(key));
  one("#problems").hidden = !elsewhere.length && !failed;
  one("#problems").replaceChildren(...(failed ? [element("p", failed)] : []), ...elsewhere.map((problem) => {
    const line = element("p", unplaced(problem));
    if (problem.key && carried.some(isUnder(problem.key))) { // of a file: no field can mend it
      const out = element("button", "Leave it out", { type: "button" });
      out.addEventListener("click", () => { carried = carried.filter((pair) => !isUnder(problem.key)(pair)); showCarried(); changed(); });
      line.append(" ", out);
    }
    return line;
  }));
  if (found.typed) {
    for (const [key, field] of fields) {
      if (overruled[key] || (!field.input.value && field.reads.textContent.startsWith("assumed"))) continue;
      field.reads.classList.remove("over");
      field.reads.textContent = readsOf(key, found);
    }
  }
  const wrong = [...fields].find(([key]) => problems.some((problem) => problem.key === key));
  const can = wrong && !found.unreadable?.includes(wrong[0]);
  unreadWords = !wrong ? `${(failed || unplaced(problems[0] ?? { text: "This bowl cannot be worked out" })).replace(/\.$/, "")}: what is shown is the last bowl that could.`
    : `${fieldName(wrong[1])} ${can ? "does not fit: what is shown is the last bowl that did" : "cannot be read: what is shown is the last bowl that could"}.`;
  showAge();
}

// ---------------------------------------------------------------- when the controls rest

function rested(settled) {
  resting = 0;
  remember(settled);
  if (document.body.classList.contains("unread")) {
    say(all(".wrong").map((p) => p.textContent).filter(Boolean).join(" ") || one("#problems").textContent);
    return;
  }
  if (wholeFor === verdictKey() && !jobs.get("verdict").control) { jobs.get("verdict").idle(); return; }
  if (!one("#by-itself").checked) { jobs.get("verdict").idle(); return; }
  if (jobs.get("verdict").asked === verdictKey() && jobs.get("verdict").control) return;
  jobs.get("verdict").start();
}

function say(text) { one("#said").textContent = text; }

// One slow question at a time of each kind. Hanging up ends the work on the other side.
class Job {
  constructor(kind, { extra = () => [], key = verdictKey, body = () => null, before = () => {}, part = () => {}, done }) {
    const box = one(`.work[data-job=${kind}]`);
    // key: all that the answer hangs on and nothing else, as keyOf makes it
    Object.assign(this, { kind, box, extra, key, body, before, part, done, control: null, asked: "", shown: "", toldFor: "", problems: [], line: "", began: 0 });
    this.result = one(`#${kind}.result`);
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
  told(line) {
    const count = /(\d+) of (\d+)/.exec(line), bar = one("progress", this.box);
    if (count && +count[2]) { bar.max = +count[2]; bar.value = +count[1]; } else bar.removeAttribute("value");
    this.line = line;
    this.count();
  }
  count() { // how long it has taken so far
    const seconds = Math.round((performance.now() - this.began) / 1000);
    if (this.line) this.tell(`${this.line[0].toUpperCase()}${this.line.slice(1)} (${seconds < 90 ? `${seconds} s` : `${Math.floor(seconds / 60)} min ${seconds % 60} s`})`, false);
  }
  idle() { this.busy(this.control !== null); }
  stop() {
    this.control?.abort();
    this.control = null;
    this.busy(false);
    this.forget();
  }
  forget() { // what was told of the last try
    this.toldFor = this.line = "";
    if (this.problems.length) { this.problems = []; showMarks(); }
    this.tell("");
  }
  freshen() {
    const key = this.key(), moved = (from) => from !== "" && !sameBowl(from, key);
    if (this.control && moved(this.asked)) { this.stop(); this.tell("Stopped: what it was asked about was changed."); }
    if (moved(this.toldFor)) this.forget();
    if (!this.result) return;
    const there = Boolean(this.result.childElementCount), old = there && moved(this.shown), other = there && !old && this.shown !== key;
    this.result.classList.toggle("stale", old);
    this.result.classList.toggle("other-units", other);
    this.result.inert = false;
    if (old) this.result.dataset.age = "This belongs to the bowl before your last change. Ask again for this one.";
    else if (other) this.result.dataset.age = `This is told in ${units === "in" ? "mm" : "inches"}. Ask again to have it in ${units === "in" ? "inches" : "mm"}.`;
    else delete this.result.dataset.age;
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
    this.began = performance.now();
    const clock = setInterval(() => { if (this.control === control) this.count(); else clearInterval(clock); }, 1000);
    await ask(this.kind, query(this.extra()), control.signal, (line) => { if (this.control === control) this.told(line); },
      (found) => { if (this.control === control) this.part(found, key, this); }, (found) => {
        if (this.control !== control) return;
        this.control = null;
        this.busy(false);
        this.forget();
        if (found.answer) { this.shown = key; this.done(found.answer, this, key); this.freshen(); return; }
        this.toldFor = key;
        this.problems = found.problems ?? [];
        showMarks();
        this.tell(found.failed || this.wrongWords());
        if (this.kind === "verdict") leftOff();
      }, this.body());
  }
  wrongWords() { // what is marked in this place is seen here; the rest is said, and where it stands
    const here = this.box.closest(".place"), said = this.problems.map((problem) => {
      const marked = fields.get(problem.key) ?? marks.get(problem.key), there = marked?.box.closest(".place");
      if (!marked) return unplaced(problem);
      if (there && there === here) return "See the marked field.";
      return `${fieldName(marked)}${there ? `, under ${one(`#places a[data-place=${there.id.slice(6)}]`).textContent}` : ""}: ${problem.text}`;
    });
    return [...new Set(said)].join("\n") || "This could not be worked out.";
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

const AT_MIDDLE = "with everything known as a range at its middle";

function leftOff() { // the verdict was stopped, or failed, before it was whole
  stopped = verdictKey();
  if (document.body.classList.contains("middle")) one("#depends").textContent = `${AT_MIDDLE}; the ends were not tried`;
  putSection();
  showAge();
  jobs.get("verdict").idle();
}

function takePart(found, key) {
  if (!parts.key || parts.key !== key) parts = { key };
  Object.assign(parts, found);
  if (key !== verdictKey()) return;
  if (found.middle && !(wholeFor && sameBowl(wholeFor, key))) { // of the same bowl told in other units the whole stands till then
    headline({ ...found.middle, best: found.middle.state, depends: `${AT_MIDDLE}; the ends are being tried` });
    shownFor = key;
    wholeFor = "";
    document.body.classList.add("middle", "known");
    showAge();
  }
  if (found.space) showSpace(found.space, key);
}

function takeVerdict(found, _job, key) {
  const whole = { verdict: found, space: parts.key === key ? parts.space : null };
  answers.set(key, whole);
  if (answers.size > 24) answers.delete(answers.keys().next().value);
  if (key !== verdictKey()) return;
  showWhole(whole, key, false);
  say(`${found.line}. ${found.rise === "none" ? "" : `${found.rise_of}: ${found.rise}.`}`);
}

function showWhole({ verdict, space: made }, key, again = true) {
  shownFor = wholeFor = key;
  document.body.classList.remove("middle");
  document.body.classList.add("known", "answered");
  headline(verdict);
  one("#why").textContent = verdict.why;
  list("#settle", verdict.settle);
  list("#notes", verdict.notes);
  one("#margins").replaceChildren(...verdict.margins.map(marginOf));
  rows("#pressing", verdict.pressing);
  rows("#bowl-table", verdict.bowl);
  rows("#saw-table", verdict.saw);
  putSection();
  one("#turn-table").replaceChildren(tableOf(verdict.turns));
  if (made && again) showSpace(made, key);
  jobs.get("verdict").idle();
  showAge();
}

let lineShown = ""; // the verdict in words, as the window's title has it

function headline(found) {
  const verdict = one("#verdict"), [states, depends = ""] = found.line.split(": ");
  verdict.textContent = states;
  lineShown = found.line;
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
  if (lastSpace && !sameBowl(lastSpace.key, key)) {
    ghostOf = lastSpace.made;
    space.ghost = one("#ghost").checked ? ghostOf : null;
  }
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
  one(".stops").dataset.end = made.knots.at(-1) > 1000 ? "let go" : "pressed";
  if (beside.bowl) beside.at = Math.min(space.at, beside.end());
  pathWords();
  showAge();
}

let ghostOf = null;

function pathWords() {
  const made = space.bowl;
  if (!made) return;
  const [from, to, part] = space.between(), a = made.states[from], b = made.states[to], nearer = part > 0.5 ? b : a;
  const force = (n) => (units === "in" ? `${n.toFixed(n < 10 ? 1 : 0)} N (${(n / 4.448222).toFixed(1)} lbf)` : `${n.toFixed(n < 10 ? 1 : 0)} N`);
  const exact = part < 1e-6 || part > 1 - 1e-6;
  const mix = (name) => (exact ? nearer[name] : a[name] + part * (b[name] - a[name]));
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
  const about = `${words}. Likeliest to split: ${made.worst?.words || "nowhere"}. The hardest worked place: ${Math.round(used * 100)} % of mean strength. Root, nail and grain are marked. Arrow keys turn it.`;
  one("#space canvas").setAttribute("aria-label", `The bowl in space. ${about}`);
  one("#space-words").textContent = made.worst && nearer.name !== "flat" ? `Likeliest to split: ${made.worst.words}. The hardest worked place of all is now at ${Math.round(used * 100)} % of mean strength.` : "Turn it by hand, or with the arrow keys.";
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

function setBeside() { // only where verdict, rise and bowl in space are those of the fields: see showAge
  if (one("#set-beside").disabled) return;
  setAside = { list: [...pairs()] };
  one("#other").hidden = false;
  one("#other-verdict").textContent = one("#verdict").textContent;
  const rise = one("#rise-of").textContent, name = one("#f-name").value.trim();
  const held = setAside.list.filter(([k]) => /^(cut|board)\.(tilt|kerf|pitch|turns|base|thickness|across)$/.test(k)).map(([k, v]) => `${k.split(".")[1]} ${v}`);
  one("#other-words").textContent = [name, `${name ? `${rise[0].toLowerCase()}${rise.slice(1)}` : rise}: ${one("#rise").textContent}. ${held.join(", ")}`].filter(Boolean).join("; ");
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
      if (!found.pairs.length) throw new Error("There is no key in it, so the bowl stays as it is.");
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
  await reading; // a bare number is whole in the units that it was typed in
  const before = pairs();
  const reply = await fetch(`/units?${query().replace(/&units=\w+$/, "")}&units=${units}&to=${to}`);
  if (!reply.ok) { one(`#units input[value=${units}]`).checked = true; return; }
  const found = await reply.json();
  found.pairs.forEach(([key, value], i) => { // the same bowl: what hangs on it goes on
    const [same, was] = before[i] ?? [];
    if (key === same && key !== "units" && value !== was && !BARE.test(was)) alias.set(`${key} ${value}`, alias.get(`${key} ${was}`) ?? was);
  });
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
  jobs.get("verdict").wanted = () => wholeFor !== verdictKey() && !document.body.classList.contains("unread") && (!one("#by-itself").checked || stopped === verdictKey());
  one(".stop", jobs.get("verdict").box).addEventListener("click", () => { leftOff(); one(".start", jobs.get("verdict").box).focus(); });
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
  one("#by-itself").addEventListener("change", () => { rested(false); putSection(); showAge(); });
  one("#save").addEventListener("click", () => {
    if (!carried.some(isLearned)) return;
    one("#file-told").textContent = "The bowl file holds what the fields say; what was learned is not in it. Save that too (below the fields of Will it lock?), and open both.";
    one("#file-told").hidden = false;
  });
  changed(false);
  clearTimeout(resting);
  rested(false); // the first verdict need not wait for the controls to rest
}

begin();
