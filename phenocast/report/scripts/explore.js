// The page to play with: what is chosen, and everything on the page that follows it.

const AXES = ["planting_date", "film", "cultivar", "transplant"];
const element = (name) => document.getElementById(`x-${name}`);
const sizes = AXES.map((axis) => data.axes[axis].length);
const at = { planting_date: 0, film: 0, cultivar: 0, transplant: 0, tilt: data.no_tilt };
let kept = null;
let speaking = 0;

function optionAt(place) {
  const row = AXES.reduce((sum, axis, n) => sum * sizes[n] + place[axis], 0);
  return data.grid[row];
}

const places = new Map();
data.grid.forEach((option, row) => {
  const place = {};
  for (let n = AXES.length - 1, rest = row; n >= 0; n -= 1) {
    place[AXES[n]] = rest % sizes[n];
    rest = Math.floor(rest / sizes[n]);
  }
  if (option !== null) places.set(option, place);
});

function called(option) {
  const place = places.get(option);
  const named = (axis) => data.names[axis][place[axis]];
  return said(sizes[3] > 1 ? "option_of_transplant" : "option", {
    date: named("planting_date"), film: named("film"), cultivar: named("cultivar"),
    transplant: named("transplant"),
  });
}

function standing(option) {
  const [mean, worst, difference, cell, near] = data.options[option].standing[at.tilt];
  return { mean, worst, difference, cell, near };
}

function sentences(option) {
  const one = data.options[option], best = data.best[at.tilt];
  const values = { option: called(option), never: percent(one.never) };
  [values.low, values.middle, values.high] = one.pick.map((iso) => day(iso));
  const [, middle, late] = one.pick;
  const pick =
    middle === null ? "answer_never"
    : late === null ? "answer_late"
    : one.never > 0 ? "answer_some_never"
    : "answer";
  const fruit = amounts(one.season, data.digits.fruit, data.units.fruit);
  const gain = one.margin
    ? said("gain", { fruit, margin: amounts(one.margin[at.tilt], 0, data.currency) })
    : said("gain_fruit", { fruit });
  const mine = standing(option);
  const alone = data.options.every(
    ({ flags }, other) => other === best || flags || !standing(other).near,
  );
  const judged =
    one.flags ? "is_flagged"
    : option === best ? (alone ? "best" : "best_not_alone")
    : mine.near ? "not_clear"
    : "clear";
  const told = [gain, said(judged, {
    best: called(best), difference: mine.difference, flags: one.flags,
  })];
  if (option === best && data.notes[at.tilt]) told.push(data.notes[at.tilt]);
  const first = [data.none, said(pick, values)].filter(Boolean).join(" ");
  return [first, told.join(" "), ...(data.biases ? [data.biases] : [])];
}

// One row of the table of figures: a name, and the words for an option.
function figures() {
  const rows = [
    ["row_planted", (o) => data.short_dates[places.get(o).planting_date]],
    ["row_film", (o) => data.names.film[places.get(o).film]],
    ["row_cultivar", (o) => data.names.cultivar[places.get(o).cultivar]],
    ["row_transplant", (o) => data.names.transplant[places.get(o).transplant]],
    ["row_pick", (o) => spread(data.options[o].pick, (iso) => day(iso, true))],
    ["row_never", (o) => percent(data.options[o].never)],
    ["row_early", (o) => spread(data.options[o].early, (v) => number(v, data.digits.fruit))],
    ["row_season", (o) => spread(data.options[o].season, (v) => number(v, data.digits.fruit))],
    ["row_heat", (o) => spread(data.options[o].heat, (v) => number(v, data.digits.heat))],
    ["row_alive", (o) => spread(data.options[o].alive, percent)],
  ];
  if (data.judged === "margin") {
    rows.push(
      ["row_revenue", (o) => spread(data.options[o].revenue[at.tilt], (v) => number(v))],
      ["row_cost", (o) => number(data.options[o].cost)],
      ["row_margin", (o) => spread(data.options[o].margin[at.tilt], (v) => number(v))],
    );
  }
  const digits = data.judged === "margin" ? 0 : data.digits.fruit;
  rows.push(
    ["row_mean", (o) => number(standing(o).mean, digits)],
    ["row_worst", (o) => number(standing(o).worst, digits)],
    ["row_difference", (o) => (o === data.best[at.tilt] ? data.format.absent : standing(o).cell)],
  );
  return rows;
}

function tell(tag, text, attributes = {}) {
  const made = document.createElement(tag);
  made.textContent = text;
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  return made;
}

function fill(table, header, rows) {
  const head = document.createElement("tr");
  head.append(...header.map((text, n) => tell("th", text, { scope: "col", class: n ? "n" : "" })));
  const body = rows.map(([name, ...cells]) => {
    const row = document.createElement("tr");
    row.append(tell("th", name, { scope: "row" }), ...cells.map((text) => tell("td", text, { class: "n" })));
    return row;
  });
  element(table).tHead.replaceChildren(head);
  element(table).tBodies[0].replaceChildren(...body);
}

function compareTable(option) {
  const shown = [["this_choice", option], ["best_choice", data.best[at.tilt]]];
  if (kept !== null) shown.push(["kept_choice", kept]);
  fill("figures", ["", ...shown.map(([key]) => words[key])],
    figures().map(([key, told]) => [words[key], ...shown.map(([, one]) => told(one))]));
}


function map() {
  const grid = data.axes.film.map((_, film) => data.axes.planting_date.map((__, date) => {
    const option = optionAt({ ...at, film, planting_date: date });
    return option === null ? null : standing(option).mean;
  }));
  const flagged = data.axes.film.map((_, film) => data.axes.planting_date.map((__, date) => {
    const option = optionAt({ ...at, film, planting_date: date });
    return option !== null && data.options[option].flags !== "";
  }));
  const best = places.get(data.best[at.tilt]);
  const here = best.cultivar === at.cultivar && best.transplant === at.transplant;
  // Thousands where money is large, so that a field of the map holds its number.
  const large = data.judged === "margin" && Math.max(...grid.flat().map(Math.abs)) >= 10000;
  const unit = data.judged === "margin" ? data.currency : data.units.fruit;
  const named = {
    cultivar: data.names.cultivar[at.cultivar], tilt: tiltTold(data.tilts[at.tilt]),
    unit: large ? said("thousands", { unit }) : unit,
  };
  const title =
    data.judged === "fruit" ? "map_title_fruit" : data.tilts[at.tilt] ? "map_title_tilted" : "map_title";
  const digits = data.judged === "margin" ? 0 : data.digits.fruit;
  drawMap(grid, data.names.film, [at.film, at.planting_date],
    here ? [best.film, best.planting_date] : [-1, -1],
    { title: said(title, named), alt: words.map_alt, flagged,
      short: (value) => number(large ? value / 1000 : value, digits) });
  fill("map", [words.row_film, ...data.short_dates],
    grid.map((row, film) => [data.names.film[film], ...row.map((value) => number(value, digits))]));
}

function picks() {
  const rows = data.axes.planting_date.map((_, date) => {
    const option = optionAt({ ...at, planting_date: date });
    return option === null ? null : data.options[option].pick;
  });
  const named = { cultivar: data.names.cultivar[at.cultivar], film: data.names.film[at.film] };
  drawPicks(rows, at.planting_date, {
    title: said("picks_title", named), alt: words.picks_alt,
    day: (date) => said("short_day", {
      day: date.getUTCDate(), month: words[`m${String(date.getUTCMonth() + 1).padStart(2, "0")}`],
    }),
  });
  fill("picks", ["row_planted", "low", "middle", "high"].map((key) => words[key]),
    rows.map((pick, date) => [
      data.names.planting_date[date], ...(pick || [null, null, null]).map((iso) => day(iso)),
    ]));
}

function weeks(option) {
  const mine = data.options[option];
  const which = kept !== null ? kept : data.best[at.tilt];
  const other = which === option ? null : data.options[which];
  drawWeeks(mine, other, {
    title: said("weeks_title", { option: called(option) }), alt: words.weeks_alt,
    across: words.weeks_across, mine: words.this_choice,
    other: words[kept !== null ? "kept_choice" : "best_choice"],
  });
  const middle = (one, week) => one.trays[week - one.from_week]?.[1] ?? 0;
  const header = [words.week, words.low, words.middle, words.high];
  if (other) header.push(words[kept !== null ? "kept_choice" : "best_choice"]);
  fill("weeks", header, mine.trays.map((row, n) => {
    const week = mine.from_week + n;
    const cells = [data.week_names[week], ...row.map((trays) => number(trays))];
    if (other) cells.push(number(middle(other, week)));
    return cells;
  }));
}

function cautions(option) {
  const film = data.axes.film[places.get(option).film];
  const texts = [
    ...(data.cautions[film] || []), ...data.options[option].warnings.map((n) => data.warnings[n]),
  ];
  element("cautions").replaceChildren(...texts.map((text) => tell("li", text, { lang: "en" })));
  element("about").hidden = texts.length === 0;
}

function speak(texts) {
  window.clearTimeout(speaking);
  speaking = window.setTimeout(() => { element("voice").textContent = texts.join(" "); }, 500);
}

function controls() {
  const date = element("planting_date"), tilt = element("tilt");
  date.value = at.planting_date;
  date.setAttribute("aria-valuetext", data.names.planting_date[at.planting_date]);
  element("planting_date-told").textContent = data.names.planting_date[at.planting_date];
  for (const axis of AXES.slice(1)) element(axis).value = at[axis];
  if (!tilt) return;
  tilt.value = at.tilt;
  tilt.setAttribute("aria-valuetext", tiltTold(data.tilts[at.tilt]));
  element("tilt-told").textContent = tiltTold(data.tilts[at.tilt]);
}

function follow(quietly = false) {
  const option = optionAt(at);
  controls();
  element("forget").hidden = kept === null;
  const texts = sentences(option);
  document.querySelectorAll("section.answer p").forEach((p, n) => { p.textContent = texts[n] ?? ""; });
  element("glance").textContent = said("glance", {
    middle: day(data.options[option].pick[1], true), mean: worth(standing(option).mean),
  });
  document.body.dataset.option = option;
  compareTable(option);
  cautions(option);
  map();
  picks();
  weeks(option);
  if (!quietly) speak(texts);
}

function go(option) {
  Object.assign(at, places.get(option));
  follow();
}

for (const name of [...AXES, "tilt"]) {
  element(name)?.addEventListener("input", (event) => {
    at[name] = Number(event.target.value);
    follow();
  });
}
element("best").hidden = data.none !== "";
element("best").addEventListener("click", () => go(data.best[at.tilt]));
element("reference").addEventListener("click", () => go(data.reference));
element("keep").addEventListener("click", () => { kept = optionAt(at); follow(); });
element("forget").addEventListener("click", () => {
  kept = null;
  follow();
  element("keep").focus();
});
for (const [moment, printed] of [["beforeprint", true], ["afterprint", false]]) {
  window.addEventListener(moment, () => { printing = printed; follow(true); });
}
let waiting = 0;
window.addEventListener("resize", () => {
  window.cancelAnimationFrame(waiting);
  waiting = window.requestAnimationFrame(() => follow(true));
});

document.getElementById("explore").hidden = false;
Object.assign(at, places.get(data.best[at.tilt]));
follow(true);
