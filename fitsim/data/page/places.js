"use strict";
// The places beside "Will it lock?": tilt, saw, map, year, a bowl that failed, what is wanted, test cuts, guide.

let measures = new Map(), testKinds = {}, tellHow = () => {}; // tellHow: how a reading is written, in the units chosen

function element(name, text = "", more = {}) {
  return Object.assign(document.createElement(name), { textContent: text }, more);
}

function listOf(lines, kind = "plain") {
  const found = element("ul", "", { className: kind });
  found.append(...lines.map((line) => element("li", line)));
  return found;
}

function tableOf({ title, heads, rows: found }) {
  const wide = element("div", "", { className: "wide", tabIndex: 0 });
  wide.setAttribute("role", "group");
  wide.setAttribute("aria-label", title);
  const table = element("table");
  const head = element("tr");
  head.append(...heads.map((text) => element("th", text, { scope: "col" })));
  const body = found.map((cells) => {
    const row = element("tr");
    row.append(...cells.map((text, i) => element(i ? "td" : "th", text, i ? {} : { scope: "row" })));
    return row;
  });
  table.append(...(title === heads[0] || title === heads.join(", ") ? [] : [element("caption", title)]), head, ...body);
  wide.append(table);
  return wide;
}

function sourcesOf(table) { // a table whose last column is sentences
  const box = element("div", "", { className: "sources" });
  box.append(tableOf(table));
  return box;
}

function pictureOf(svg, words) {
  const image = element("img", "", { alt: words });
  image.src = URL.createObjectURL(new Blob([svg], { type: "image/svg+xml" }));
  image.addEventListener("load", () => URL.revokeObjectURL(image.src), { once: true });
  const figure = element("figure", "", { className: "picture", tabIndex: 0, ariaLabel: "Picture" }), frame = element("div", "", { className: "frame" });
  frame.append(image);
  figure.append(frame);
  return figure;
}

function told(parts) { // paragraphs, and rows of cells as a table
  return parts.map((part) => (typeof part === "string" ? element("p", part) : tableOf({ title: part[0].join(", "), heads: part[0], rows: part.slice(1) })));
}

const BARE = /^[0-9.\s/½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞-]+$/; // a number without a unit

const filled = (id, ...more) => one(id).replaceChildren(...more);

// ---------------------------------------------------------------- details of the answer, tilt

function showDetails(found) {
  filled("#details", element("p", found.model), element("p", found.unseen), element("h4", "Beyond the model, sized for this bowl"),
    listOf(found.beyond, "lines"), ...found.tables.map(tableOf));
}

function showTilt(found) {
  const first = found.headline, more = found.told.map((text) => element("p", text));
  const parts = [element("p", first, { className: "first" })];
  if (found.best_deg === null) parts.push(...more.splice(0, 1)); // what would open a range
  else {
    const best = found.best_shown;
    const take = element("button", `Set the tilt to ${best} deg`, { type: "button" });
    take.addEventListener("click", () => setField(fields.get("cut.tilt"), +best));
    parts.push(take);
  }
  filled("#tilt", ...parts, pictureOf(found.svg, `Chance of each state against the tilt. ${first}`), ...more,
    ...found.lists.flatMap(([title, lines]) => [element("h3", title), listOf(lines, "lines")]));
  say(first);
}

function blobOf(text, type) {
  return URL.createObjectURL(new Blob([Uint8Array.from(atob(text), (c) => c.charCodeAt(0))], { type }));
}

let moving = []; // addresses of the pictures shown, given back when others take their place

function showRings(found) {
  moving.forEach((address) => URL.revokeObjectURL(address));
  moving = [];
  const parts = [element("p", found.told)];
  if (found.table) parts.push(tableOf(found.table));
  if (found.gif) {
    const [gif, still] = moving = [blobOf(found.gif, "image/gif"), blobOf(found.still, "image/png")];
    const words = "The bowl opening: section of the stiff rings, from flat until nothing moves";
    const image = element("img", "", { alt: words, src: still }), figure = element("figure", "", { className: "picture" });
    const play = element("button", "", { type: "button" });
    const put = (on) => { image.src = on ? gif : still; play.textContent = on ? "Hold the picture" : "Let it move"; };
    play.addEventListener("click", () => put(image.src === still));
    put(!matchMedia("(prefers-reduced-motion: reduce)").matches);
    const row = element("div", "", { className: "row" });
    row.append(play, element("a", "Save the moving picture (GIF)", { className: "button", href: gif, download: "bowl-opening.gif" }));
    figure.append(image, element("figcaption", words));
    parts.push(figure, row);
  }
  filled("#rings", ...parts);
  say(found.told);
}

function takeSheets(found) {
  const bytes = Uint8Array.from(atob(found.pdf), (c) => c.charCodeAt(0));
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([bytes], { type: "application/pdf" }));
  link.download = "bowl-sheet.pdf";
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
  const words = ["Downloaded as bowl-sheet.pdf. Print it at 100 %, never fitted to the page:", `${found.pages} pages.`, ...found.remarks, found.verdict].join(" ");
  filled("#sheets", element("p", words));
  say(words);
}

// ---------------------------------------------------------------- the map

const MAP_QUANTITIES = { // name, unit in mm, unit in inches, usual reach in each
  tilt: ["Tilt", "deg", "deg", [2, 14], [2, 14]], kerf: ["Kerf", "mm", "in", [0.4, 1.6], [0.016, 0.063]],
  pitch: ["Pitch", "mm", "in", [4, 14], ["1/8", "9/16"]], thickness: ["Thickness", "mm", "in", [8, 32], ["1/4", "1 1/4"]],
  across: ["Across", "mm", "in", [120, 400], [5, 16]], base: ["Base", "mm", "in", [40, 160], ["1 1/2", "6"]],
  friction: ["Friction", "", "", [0.15, 0.7], [0.15, 0.7]], press: ["Press", "N", "N", [20, 400], [20, 400]],
  moisture: ["Moisture when sawn", "%", "%", [5, 16], [5, 16]], turn_moisture: ["Moisture of the turns now", "%", "%", [5, 16], [5, 16]],
  film: ["Film of finish", "mm", "in", [0, 0.15], [0, 0.006]],
};

const FINE = /\.(?:kerf|film)$/; // told by a feeler gauge, in thousandths, not by a rule

function showAxis(word, text) { // "kerf=0.4..1.6 mm" into its three controls
  const found = /^(\w+)=([^.].*?)\.\.(.+?)(?::.*)?$/.exec(text);
  if (!found) return;
  const [, key, low, rest] = found, [, high, unit = ""] = /^([-\d./]+(?: \d+\/\d+)?)\s*(.*)$/.exec(rest.trim()) || [null, rest, ""];
  const select = one(`#${word}-key`);
  if (![...select.options].some((o) => o.value === key)) select.add(new Option(key, key));
  select.value = key;
  one(`#${word}-low`).value = low;
  one(`#${word}-high`).value = high;
  one(`#${word}-unit`).textContent = unit || MAP_QUANTITIES[key]?.[1] || "";
}

function axisWords() {
  return Object.fromEntries(["across", "up"].map((word) => {
    const key = one(`#${word}-key`).value, unit = one(`#${word}-unit`).textContent;
    const bare = unit === (MAP_QUANTITIES[key]?.[1] || "") && unit !== "mm" ? "" : unit;
    return [word, `${key}=${one(`#${word}-low`).value.trim()}..${one(`#${word}-high`).value.trim()}${bare ? ` ${bare}` : ""}`];
  }));
}

function chooseAxis(word) {
  const [, mm, inches, inMm, inIn] = MAP_QUANTITIES[one(`#${word}-key`).value], metric = units === "mm";
  [one(`#${word}-low`).value, one(`#${word}-high`).value] = metric ? inMm : inIn;
  one(`#${word}-unit`).textContent = metric ? mm : inches;
  remember(false);
  freshen();
}

const mapChanges = () => {
  const axes = axisWords();
  return new RegExp(`^(?:${["across", "up"].map((w) => `\\w+\\.${axes[w].split("=")[0]}`).join("|")})$`);
};

function showMap(found) {
  const picture = pictureOf(found.svg, found.words), [left, bottom, wide, high] = found.box;
  const knob = element("button", "", { type: "button", className: "own" });
  const at = found.axes.map((axis) => axis.own);
  const name = () => `Your bowl: ${found.axes.map((axis, i) => `${axis.name} ${number(axis, at[i])}`).join(", ")}. Drag it, or use the arrow keys.`;
  const number = (axis, share) => {
    const value = axis.low + share * (axis.high - axis.low);
    return axis.unit === "in" && !FINE.test(axis.key) ? `${fraction(value, 64)} in` : `${+value.toPrecision(4)} ${axis.unit}`.trim();
  };
  const place = () => {
    knob.style.left = `${100 * (left + wide * at[0])}%`;
    knob.style.bottom = `${100 * (bottom + high * at[1])}%`;
    knob.setAttribute("aria-label", name());
    knob.title = name();
  };
  const move = (x, y) => {
    [at[0], at[1]] = [x, y].map((v) => Math.min(Math.max(v, 0), 1));
    place();
    found.axes.forEach((axis, i) => {
      const field = fields.get(axis.key);
      if (!field || field.input.disabled) return;
      field.input.value = number(axis, at[i]);
      giveWay(field);
    });
    changed();
  };
  const words = element("figcaption", found.words);
  if (at.every((v) => v !== null)) {
    place();
    const within = (event) => {
      const box = one("img", picture).getBoundingClientRect();
      return [((event.clientX - box.left) / box.width - left) / wide, (1 - (event.clientY - box.top) / box.height - bottom) / high];
    };
    knob.addEventListener("pointerdown", (event) => {
      event.preventDefault();
      knob.focus({ preventScroll: true });
      const drag = (e) => move(...within(e));
      const end = () => { removeEventListener("pointermove", drag); removeEventListener("pointerup", end); removeEventListener("pointercancel", end); };
      addEventListener("pointermove", drag);
      addEventListener("pointerup", end);
      addEventListener("pointercancel", end);
    });
    knob.addEventListener("keydown", (event) => {
      const step = { ArrowLeft: [-0.01, 0], ArrowRight: [0.01, 0], ArrowUp: [0, 0.01], ArrowDown: [0, -0.01] }[event.key];
      if (!step) return;
      event.preventDefault();
      move(at[0] + step[0], at[1] + step[1]);
    });
    one(".frame", picture).append(knob);
  }
  picture.append(words);
  mapShown = { move: () => { // the fields were changed elsewhere; what it wrote itself may be rounded, and does not move it
    found.axes.forEach((axis, i) => {
      const value = places[axis.key], kind = axis.unit === "in" ? 25.4 : 1;
      if (value !== undefined && fields.get(axis.key)?.input.value !== number(axis, at[i])) at[i] = Math.min(Math.max((value / kind - axis.low) / (axis.high - axis.low), 0), 1);
    });
    if (at.every((v) => v !== null)) place();
  } };
  filled("#map", picture);
}

let mapShown = null;

// ---------------------------------------------------------------- the year

const fileOf = (word, file) => (file ? [[word, `${file.name} ${file.size} ${file.lastModified}`]] : []);

function showYear(found) {
  const picture = pictureOf(found.svg, found.sentences.join(" "));
  picture.append(element("figcaption", found.place));
  const parts = found.lists.filter(([, lines]) => lines.length)
    .flatMap(([title, lines]) => [element("h3", title), listOf(lines, "lines")]);
  const [first, ...more] = found.sentences;
  filled("#year", element("p", first, { className: "first" }), ...more.map((text) => element("p", text)), picture, ...parts, ...found.tables.map(tableOf));
  say(found.sentences[0]);
}

function showWeather() {
  one("#no-weather").hidden = !weather;
  one("#weather-name").textContent = weather ? `Weather: ${weather.name} (a bookmark does not hold it)` : "No weather file is open.";
}

function showCauses() {
  one("#no-causes").hidden = !causesTable;
  one("#causes-name").textContent = causesTable ? `Causes: ${causesTable.name} (a bookmark does not hold it)` : "The causes are those of the program’s own table.";
}

// ---------------------------------------------------------------- a bowl that failed

const isFinding = ([key]) => key === "seen.what" || key.startsWith("measured.");

function takenBack(pair, label, focus) {
  const away = element("button", "Take back", { type: "button" });
  away.setAttribute("aria-label", `Take back: ${label}`);
  away.addEventListener("click", () => {
    carried = carried.filter((other) => other !== pair);
    showCarried();
    remember();
    freshen();
    one(focus).focus();
  });
  return away;
}

function showFindings() {
  one("#findings").replaceChildren(...carried.filter(isFinding).map((pair) => {
    const [key, value] = pair;
    const item = element("li", key === "seen.what" ? `Seen: ${value}` : `Measured: ${key.slice(9).replaceAll("_", " ")} ${value}`);
    item.append(takenBack(pair, item.textContent, "#seen-what"));
    return item;
  }));
}

function addFinding(key, value) {
  if (!value.trim()) return;
  carried = [...carried.filter(([k]) => k !== key || key === "seen.what"), [key, value.trim()]];
  showFindings();
  remember();
  freshen();
  say(`${key === "seen.what" ? "Seen" : "Measured"}: ${value}`);
}

function addSeen() {
  const turn = one("#seen-turn").value.trim(), where = one("#seen-where").value;
  if (!one("#seen-what").value) { say("Choose what you saw first."); one("#seen-what").focus(); return; }
  addFinding("seen.what", [one("#seen-what").value + (turn ? ` at turn ${turn}` : ""), where].filter(Boolean).join(", "));
  for (const css of ["#seen-what", "#seen-turn", "#seen-where"]) one(css).value = "";
}

function takeFindings() { // what was chosen or typed and not yet added counts
  if (one("#seen-what").value) addSeen();
  addTyped();
  one("#measured-value").value = "";
}

function addTyped() {
  const key = one("#measured-key").value;
  addMeasured(`measured.${key}`, one("#measured-value").value, measuredUnit(key));
}

const measuredUnit = (key) => { const { unit } = measures.get(key); return unit === "mm" ? units : unit; };

function addMeasured(key, value, unit = "") { // a bare number is in the unit that was asked for
  if (!value.trim()) return;
  addFinding(key, unit && value.split("+-").every((number) => BARE.test(number)) ? `${value.trim()} ${unit}` : value);
}

function showFailed(found) {
  const headline = element("h3", found.headline, { tabIndex: -1 });
  const causes = element("ul", "", { className: "plain causes" });
  causes.append(...found.causes.map((cause) => {
    const item = element("li");
    item.append(element("span", cause.chance), element("span", cause.words));
    if (cause.fits) item.append(element("p", cause.fits, { className: "quiet" }));
    if (cause.remedy) item.append(element("p", `For the next one: ${cause.remedy}`));
    return item;
  }));
  if (found.others) {
    const item = element("li");
    item.append(...found.others.map((text) => element("span", text)));
    causes.append(item);
  }
  filled("#failed", headline, ...found.warnings.map((text) => element("p", text, { className: "wrong" })),
    ...found.notes.map((text) => element("p", text)), causes, ...(found.causes.some((cause) => cause.remedy) ? [element("p", `As planned: ${found.planned}. ${found.presses}`.trim())] : []), found.next.length ? askNext(found.next) : element("p", "Nothing more to measure: no reading in the list is expected to change this."),
    ...(found.svg ? [pictureOf(found.svg, `What each cause would give against what was found. ${found.headline}`)] : []),
    element("p", found.footing, { className: "quiet" }));
  headline.focus();
}

function askReading(reading, words) {
  const label = element("label", `${words}${reading.what} `);
  const input = reading.choices.length ? element("select") : element("input", "", { size: 12 });
  if (reading.choices.length) input.append(new Option("not looked", ""), ...reading.choices.map((word) => new Option(word)));
  const typed = element("span", "", { className: "with-unit" });
  typed.append(input, element("span", reading.unit));
  label.append(typed);
  const row = element("div", "", { className: "row" });
  row.append(label);
  return { row, take: () => input.value.trim() && addMeasured(reading.key, input.value, reading.unit) };
}

function askNext([first, ...others]) {
  const box = element("form", "", { className: "ask", autocomplete: "off", noValidate: true });
  box.setAttribute("aria-label", "Measure next");
  const asked = [askReading(first, "Measure next: "), ...first.together.map((reading) => askReading(reading, "And: "))];
  box.append(...asked.map((ask) => ask.row), element("button", "That is what it reads", { type: "submit" }));
  if (first.together.length) box.append(element("p", `All with the ${first.tool}; leave empty what you cannot take.`, { className: "quiet" }));
  box.append(element("p", `Expected to settle ${first.settles} of what is still open.${first.together.length && first.bands.length ? " The first alone:" : ""}`, { className: "quiet" }),
    listOf(first.bands, "plain quiet"));
  if (others.length) box.append(element("p", `Next best: ${others.map((other) => other.what).join("; ")}.`, { className: "quiet" }));
  box.addEventListener("submit", (event) => {
    event.preventDefault();
    if (asked.map((ask) => ask.take()).some((taken) => taken !== "")) jobs.get("failed").start();
  });
  return box;
}

// ---------------------------------------------------------------- test cuts

const TEST_UNITS = { deg: () => "deg", g: () => "g", "%": () => "%", "kg or lb": () => (units === "in" ? "lb" : "kg") };

function testForm() {
  const kind = one("#test-kind").value, { name: _name, ...asked } = testKinds[kind];
  const inputs = Object.entries(asked).map(([key, words]) => {
    const [what, unit] = words.split(", ");
    const label = element("label", `${what} `), input = element("input", "", { size: 9 });
    input.dataset.key = key;
    label.append(input, element("span", "", { className: "unit" }));
    label.dataset.unit = unit;
    return label;
  });
  if (kind === "ring") {
    const label = element("label", "", { className: "tick" }), box = element("input", "", { type: "checkbox" });
    box.dataset.key = "fell_through";
    label.append(box, element("span", "it dropped straight through"));
    inputs.push(label);
  }
  one("#test-form").replaceChildren(...inputs, element("button", "Add this reading", { type: "submit" }));
  testUnits();
}

function testUnits() { // what a bare number is read in, beside every field
  for (const label of all("#test-form label[data-unit]")) one(".unit", label).textContent = ` ${TEST_UNITS[label.dataset.unit]?.() ?? units}`;
}

function addTest(event) {
  event?.preventDefault();
  const kind = one("#test-kind").value, cells = [];
  for (const input of all("#test-form input")) {
    const words = testKinds[kind][input.dataset.key], unit = words && (TEST_UNITS[words.split(", ")[1]]?.() ?? units);
    if (input.type === "checkbox") { if (input.checked) cells.push("fell_through=true"); continue; }
    const text = input.value.trim();
    if (text) cells.push(`${input.dataset.key}=${BARE.test(text) ? `${text} ${unit}` : text}`);
  }
  if (!cells.length) return;
  carried = [...carried, [`tests.${kind}`, cells.join("; ")]];
  showTests();
  testForm();
  remember();
  freshen();
  if (event) one("#test-form input").focus();
  say(`Added: ${testKinds[kind].name}, ${cells.join(", ").replaceAll("=", " ")}`);
}

function showTests() {
  if (!Object.keys(testKinds).length) return;
  one("#tests-list").replaceChildren(...carried.filter(([key]) => key.startsWith("tests.")).map((pair) => {
    const kind = pair[0].slice(6), item = element("li", `${testKinds[kind]?.name ?? kind}: ${pair[1].replaceAll("=true", "").replaceAll("=", " ").replaceAll("_", " ")}`);
    item.append(takenBack(pair, item.textContent, "#test-kind"));
    return item;
  }));
}

function showTaught(found) {
  const use = element("button", "Use this on the bowl", { type: "button" });
  use.addEventListener("click", () => {
    carried = [...carried.filter((pair) => !isLearned(pair)), ...found.pairs];
    showCarried();
    changed();
    say("What was learned is used on the bowl; fields that it overrules say so.");
  });
  const keep = element("a", "Keep it as a file", { className: "button", download: "saw.toml" });
  keep.href = URL.createObjectURL(new Blob([found.file], { type: "application/toml" }));
  const row = element("div", "", { className: "row" });
  row.append(use, keep);
  const parts = told(found.told);
  parts[0]?.classList.add("first");
  filled("#tests", ...parts, row, ...(found.granted ? [sourcesOf(found.granted)] : []), element("h3", "At the saw and the tests"), listOf(found.cautions, "lines"));
}

function showTesting(found) {
  filled("#testing", pictureOf(found.svg, "How to slide, break and weigh off-cuts; the steps stand below"),
    ...found.steps.flatMap(([title, lines]) => { const steps = listOf(lines, "lines"); const numbered = element("ol", "", { className: "lines" }); numbered.append(...steps.children); return [element("h4", title), numbered]; }),
    element("h4", "With care"), listOf(found.cautions, "lines"));
}

// ---------------------------------------------------------------- what I want

function keepChosen() {
  const kept = all("#keep input").filter((box) => box.checked).map((box) => box.value).join(", ");
  carried = [...carried.filter(([key]) => key !== "want.keep"), ...(kept ? [["want.keep", kept]] : [])];
  remember();
  freshen();
}

function showKept() {
  const kept = carried.filter(([key]) => key === "want.keep").flatMap(([, value]) => value.split(",").map((word) => word.trim()));
  for (const box of all("#keep input")) box.checked = kept.includes(box.value);
}

function showWanted(found) {
  const cuts = found.answers.map((answer, i) => {
    const box = element("div", "", { className: "ask" });
    const take = element("button", `Take cut ${i + 1}`, { type: "button" });
    take.addEventListener("click", () => {
      show([...answer.pairs, ...carried.filter(isLearned), ["units", units], ...pageWords()]);
      changed();
      say("The cut is the bowl's now; Undo brings the bowl before back.");
    });
    box.append(element("h3", `Cut ${i + 1}${answer.title ? `: ${answer.title[0].toLowerCase()}${answer.title.slice(1).replace(/\.$/, "")}` : ""}`),
      ...[answer.sentence, ...answer.first].map((text) => element("p", text)), take);
    return box;
  });
  filled("#want", element("p", found.headline, { className: "first" }), ...found.in_the_way.map((text) => element("p", text)), ...cuts,
    ...(found.svg ? [pictureOf(found.svg, `The first cut over what is wanted. ${found.answers[0].sentence}`)] : []),
    ...(found.table ? [tableOf(found.table)] : []), ...found.how.map((text) => element("p", text)),
    element("h3", "Bounds of the trade"), listOf(found.bounds, "lines"), element("h3", "At the saw"), listOf(found.cautions, "lines"));
  say(found.headline);
}

// ---------------------------------------------------------------- the guide

let guide = null;

async function openGuide() {
  if (guide) return;
  guide = [];
  try { guide = (await (await fetch("/guide")).json()).pages; } catch { guide = null; }
  if (!guide?.length) { one("#guide-page").replaceChildren(element("p", "No page of the guide is here.")); return; }
  one("#guide-list").replaceChildren(...guide.map((page) => {
    const item = element("li"), link = element("button", page.title, { type: "button" });
    link.addEventListener("click", () => { readGuide(page, link);
      const read = one("#guide-page"), top = read.getBoundingClientRect().top;
      read.focus({ preventScroll: true });
      if (top > innerHeight / 2 || top < 0) read.scrollIntoView(); // on a phone it begins below the list
    });
    item.append(link);
    return item;
  }));
  const first = Math.max(guide.findIndex((page) => page.name === "page"), 0); // not how to begin at a terminal
  readGuide(guide[first], all("#guide-list button")[first]);
}

function readGuide(page, link) {
  for (const other of all("#guide-list button")) other.removeAttribute("aria-current");
  link.setAttribute("aria-current", "true");
  one("#guide-page").replaceChildren(...pageOf(page.text));
}

function inline(text) { // `code`, **strong**, *words*, [words](elsewhere)
  return text.split(/(`[^`]+`|\*\*[^*]+\*\*|\*[^*\s][^*]*\*|\[[^\]]+\]\([^)]*\))/).map((part) => {
    if (/^`.+`$/.test(part)) return element("code", part.slice(1, -1));
    if (/^\*\*.+\*\*$/.test(part)) return element("strong", part.slice(2, -2));
    if (/^\*.+\*$/.test(part)) return element("em", part.slice(1, -1));
    if (/^\[.+\]\(.*\)$/.test(part)) return document.createTextNode(/^\[([^\]]+)\]/.exec(part)[1]);
    return document.createTextNode(part);
  });
}

function withInline(node, text) { node.append(...inline(text)); return node; }

function pageOf(text) {
  const found = [], lines = text.split("\n");
  for (let i = 0; i < lines.length; i++) {
    const line = lines[i];
    if (!line.trim()) continue;
    if (line.startsWith("```") || /^ {4}\S/.test(line)) {
      const fenced = line.startsWith("```"), code = fenced ? [] : [line.slice(4)];
      while (++i < lines.length && (fenced ? !lines[i].startsWith("```") : /^ {4}/.test(lines[i]) || !lines[i].trim())) code.push(fenced ? lines[i] : lines[i].slice(4));
      if (!fenced) i--;
      found.push(element("pre", code.join("\n").trimEnd(), { tabIndex: 0 }));
    } else if (line.startsWith("#")) {
      const level = /^#+/.exec(line)[0].length;
      found.push(withInline(element(`h${Math.min(level + 2, 6)}`), line.replace(/^#+\s*/, "")));
    } else if (line.startsWith("|")) {
      const body = [line];
      while (lines[i + 1]?.startsWith("|")) body.push(lines[++i]);
      const cells = body.filter((row) => !/^\|[\s|:-]+\|$/.test(row)).map((row) => row.replace(/^\||\|$/g, "").split("|").map((c) => c.trim()));
      found.push(tableOf({ title: cells[0][0], heads: cells[0], rows: cells.slice(1) }));
    } else if (/^\s*(?:[-*]|\d+\.)\s/.test(line)) {
      const items = [];
      for (; i < lines.length && lines[i].trim(); i++) {
        if (/^\s*(?:[-*]|\d+\.)\s/.test(lines[i])) items.push(lines[i].replace(/^\s*(?:[-*]|\d+\.)\s+/, "")); else items[items.length - 1] += ` ${lines[i].trim()}`;
      }
      const made = element(/^\s*\d/.test(line) ? "ol" : "ul", "", { className: "lines" });
      made.append(...items.map((item) => withInline(element("li"), item)));
      found.push(made);
    } else {
      const words = [line];
      while (lines[i + 1]?.trim() && !/^(?:#|\||```|\s*(?:[-*]|\d+\.)\s)/.test(lines[i + 1])) words.push(lines[++i]);
      found.push(withInline(element("p"), words.join(" ")));
    }
  }
  return found;
}

// ---------------------------------------------------------------- beginning

function makePlaces() {
  const job = (kind, more) => jobs.set(kind, new Job(kind, more));
  const also = (test, ...more) => [...bowlPairs(), ...pairs().filter(([key]) => test.test(key)), ...more]; // what else is read
  job("changes", { done: (found) => filled("#changes", tableOf(found)) });
  job("pictures", { key: () => keyOf(also(/^name$/)), done: (found) => filled("#pictures", ...found.svgs.map((svg, i) => pictureOf(svg, i ? "The strip unrolled, the bowl from above, press against rise" : "Section and margins as printed"))) });
  job("details", { done: showDetails });
  job("rings", { done: showRings });
  job("tilt", { key: () => keyOf(bowlPairs().filter(([key]) => key !== "cut.tilt")), done: showTilt, part: (found, key, self) => { self.shown = key; showTilt(found); } });
  const sheetWords = () => ["paper", "copies", "middle", "lowered"].map((word) => [word, one(`#${word}`).value.trim()]);
  job("sheets", { extra: sheetWords, key: () => keyOf(also(/^name$/, ...sheetWords().filter(([word, value]) => value !== usual(word)))), done: takeSheets });
  const ends = () => (one("#ranges").checked ? [["ranges", "yes"]] : []), mapWords = () => [...Object.entries(axisWords()), ...ends()];
  const moved = () => Object.entries(axisWords()).filter(([word, value]) => value !== AXES[units][word]); // the usual ones go with the units
  job("map", { extra: mapWords, done: showMap, key: () => keyOf([...bowlPairs().filter(([key]) => !mapChanges().test(key)), ...moved(), ...ends()]) });
  const yearWords = () => pageWords().filter(([word]) => ["stored", "opened", "since"].includes(word));
  job("year", { extra: yearWords, body: () => weather, done: showYear, key: () => keyOf(also(/^(room|weather)\./, ...yearWords(), ...fileOf("weather", weather))) });
  job("failed", { before: takeFindings, body: () => causesTable, done: showFailed, key: () => keyOf(also(/^(seen|measured)\./, ...fileOf("causes", causesTable))) });
  job("tests", { before: addTest, done: showTaught, key: () => keyOf(pairs().filter(([key]) => /^tests\.|^board\.wood$|^use\.finish$/.test(key))) });
  job("testing", { done: showTesting, key: () => keyOf([]) });
  job("want", { done: showWanted, key: () => keyOf(also(/^want\./)) });
  for (const word of ["across", "up"]) {
    const inputs = [one(`#${word}-low`), one(`#${word}-high`)];
    for (const input of inputs) input.setAttribute("aria-describedby", `${word}-wrong`);
    marks.set(word, { inputs, wrong: one(`#${word}-wrong`), box: inputs[0].closest(".row") });
  }
  marks.set("copies", { inputs: [one("#copies")], wrong: one("#copies-wrong"), box: one("#sheet-options") });
  one("#copies").setAttribute("aria-describedby", "copies-wrong");
  all("#keep input").forEach((box) => box.addEventListener("change", keepChosen));
  for (const word of ["across", "up"]) {
    one(`#${word}-key`).append(...Object.entries(MAP_QUANTITIES).map(([key, [name]]) => new Option(name, key)));
    one(`#${word}-key`).addEventListener("change", () => chooseAxis(word));
    for (const end of ["low", "high"]) one(`#${word}-${end}`).addEventListener("input", () => { remember(false); freshen(); });
  }
  one("#no-weather").addEventListener("click", () => { weather = null; showWeather(); freshen(); one("#open-file").focus(); });
  one("#no-causes").addEventListener("click", () => { causesTable = null; showCauses(); freshen(); one("#open-file").focus(); });
  one("#seen-add").addEventListener("click", addSeen);
  one("#measured-add").addEventListener("click", addTyped);
  one("#test-kind").addEventListener("change", testForm);
  one("#test-form").addEventListener("submit", addTest);
}

function offerWords(words) {
  one("#seen-what").append(new Option("choose what you saw", ""), ...words.seen.map(([word, meaning]) => new Option(`${word}: ${meaning}`, word)));
  one("#seen-where").append(...[...Object.keys(words.places), ...words.whens].map((word) => new Option(word)));
  measures = new Map(words.measures.map(([key, what, unit]) => [key, { what, unit }]));
  one("#measured-key").append(...[...measures.keys()].map((key) => new Option(key.replaceAll("_", " "), key)));
  const how = () => {
    const key = one("#measured-key").value, unit = measuredUnit(key);
    one("#measured-unit").textContent = unit;
    one("#measured-how").textContent = `${measures.get(key).what}${unit ? `; a bare number is in ${unit === "in" ? "inches" : unit}, and how well it is known may stand behind it, like ${{ in: "0.026 +- 0.002 in", mm: "0.65 +- 0.05 mm" }[unit] ?? `8 +- 0.5 ${unit}`}` : ""}.`;
  };
  tellHow = how;
  one("#measured-key").addEventListener("input", how);
  how();
  one("#places a[data-place=want]").hidden = !words.plans;
  testKinds = words.tests;
  one("#test-kind").append(...Object.entries(testKinds).map(([kind, { name }]) => new Option(name, kind)));
  testForm();
  list("#cautions", words.cautions);
}
