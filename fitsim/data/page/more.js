"use strict";
// The year where the bowl is kept, and the conversation about a bowl that failed.

let weather = null; // a File; it is read by the server for one question and stays in this window
let measures = new Map();

function element(name, text = "", more = {}) {
  return Object.assign(document.createElement(name), { textContent: text }, more);
}

function listOf(lines, kind = "plain") {
  const found = element("ul", "", { className: kind });
  found.append(...lines.map((line) => element("li", line)));
  return found;
}

// ---------------------------------------------------------------- the year

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
  table.append(element("caption", title), head, ...body);
  wide.append(table);
  return wide;
}

function showYear(found) {
  const image = element("img", "", { alt: found.sentences.join(" ") });
  image.src = URL.createObjectURL(new Blob([found.svg], { type: "image/svg+xml" }));
  const figure = element("figure");
  figure.append(image, element("figcaption", found.place));
  const parts = found.lists.filter(([, lines]) => lines.length)
    .flatMap(([title, lines]) => [element("h3", title), listOf(lines)]);
  URL.revokeObjectURL(one("#year img")?.src);
  one("#year").replaceChildren(...found.sentences.map((text) => element("p", text)), figure,
    ...found.tables.map(tableOf), ...parts);
  say(found.sentences[0]);
}

function takeWeather(file) {
  weather = file || null;
  one("#no-weather").hidden = !weather;
  one("#weather-name").textContent = weather ? `${weather.name} (a bookmark does not hold it)`
    : "Without one, the room’s humidity or the bowl file’s monthly means serve.";
}

// ---------------------------------------------------------------- a bowl that failed

const isFinding = ([key]) => key === "seen.what" || key.startsWith("measured.");

function showFindings() {
  one("#findings").replaceChildren(...carried.filter(isFinding).map((pair) => {
    const [key, value] = pair;
    const item = element("li", key === "seen.what" ? `Seen: ${value}` : `Measured: ${key.slice(9)} ${value}`);
    const away = element("button", "Take back", { type: "button" });
    away.setAttribute("aria-label", `Take back: ${item.textContent}`);
    away.addEventListener("click", () => {
      carried = carried.filter((other) => other !== pair);
      showFindings();
      remember();
      one("#seen-what").focus();
    });
    item.append(away);
    return item;
  }));
}

function addFinding(key, value) {
  if (!value.trim()) return;
  carried = [...carried.filter(([k]) => k !== key || key === "seen.what"), [key, value.trim()]];
  showFindings();
  remember();
  say(`${key === "seen.what" ? "Seen" : "Measured"}: ${value}`);
}

function addSeen() {
  const turn = one("#seen-turn").value.trim(), where = one("#seen-where").value;
  addFinding("seen.what", [one("#seen-what").value + (turn ? ` at turn ${turn}` : ""), where].filter(Boolean).join(", "));
}

function addMeasured(key, value, unit = "") { // a bare number is in the unit that was asked for
  addFinding(key, /^[0-9.\s/-]+$/.test(value) && unit ? `${value.trim()} ${unit}` : value);
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
  one("#failed").replaceChildren(headline, ...found.warnings.map((text) => element("p", text, { className: "wrong" })),
    causes, found.next.length ? askNext(found.next) : element("p", "Nothing more to measure: no reading in the list is expected to change this."),
    element("p", found.footing, { className: "quiet" }));
  headline.focus();
}

function askReading(reading, words) {
  const label = element("label", `${words}${reading.what} `);
  const input = reading.choices.length ? element("select") : element("input", "", { size: 12 });
  if (reading.choices.length) input.append(...reading.choices.map((word) => new Option(word)));
  label.append(input);
  const row = element("div", "", { className: "row" });
  row.append(label, element("span", reading.unit));
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

// ---------------------------------------------------------------- beginning

function makeMore(words) {
  jobs.set("year", new Job(one(".work[data-job=year]"), () => pageWords().filter(([w]) => ["stored", "opened", "since", "strip"].includes(w)), showYear));
  jobs.set("failed", new Job(one(".work[data-job=failed]"), () => [], showFailed));
  one("#weather").addEventListener("change", (event) => { takeWeather(event.target.files[0]); event.target.value = ""; });
  one("#no-weather").addEventListener("click", () => { takeWeather(null); one("#weather").focus(); });
  one("#seen-what").append(...words.seen.map(([word, meaning]) => new Option(`${word}: ${meaning}`, word)));
  one("#seen-where").append(...[...Object.keys(words.places), ...words.whens].map((word) => new Option(word)));
  measures = new Map(words.measures);
  one("#measured-key").append(...[...measures.keys()].map((key) => new Option(key.replaceAll("_", " "), key)));
  const how = () => { one("#measured-how").textContent = `${measures.get(one("#measured-key").value)}; written like 0.65 +- 0.05 mm.`; };
  one("#measured-key").addEventListener("input", how);
  how();
  one("#seen-add").addEventListener("click", addSeen);
  one("#measured-add").addEventListener("click", () => addMeasured(`measured.${one("#measured-key").value}`, one("#measured-value").value));
}
