// Drawings as inline SVG, at the width of their place so that letters keep their size.

const TEXT = 12;
const DAY_MS = 86400000;
// Widths on paper, so that letters there are as large as those of the text around them.
const PAPER = { "draw-map": 720, "draw-picks": 350, "draw-weeks": 350 };
let printing = false;

function svg(tag, attributes = {}, ...children) {
  const element = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  element.append(...children);
  return element;
}

function canvas(place, height, title, told) {
  const box = document.getElementById(place);
  const width = printing ? PAPER[place] : Math.max(260, Math.round(box.clientWidth));
  box.previousElementSibling.textContent = title;
  const root = svg("svg", {
    viewBox: `0 0 ${width} ${height}`, role: "img", "aria-labelledby": `${place}-t ${place}-d`,
  });
  root.append(
    svg("title", { id: `${place}-t` }, title), svg("desc", { id: `${place}-d` }, told),
  );
  box.replaceChildren(root);
  return { root, width, height };
}

function label(root, text, x, y, anchor = "start", role = "quiet") {
  root.append(
    svg("text", { x, y, "text-anchor": anchor, "font-size": TEXT, fill: `var(--${role})` }, text),
  );
}

function line(root, x1, y1, x2, y2, role = "rule", more = {}) {
  root.append(svg("line", { x1, y1, x2, y2, stroke: `var(--${role})`, ...more }));
}

const time = (iso) => Date.parse(iso + "T00:00:00Z");

// Round steps of 1, 2 or 5 that part a span into at most `most` pieces.
function ticks(low, high, most = 4) {
  const span = high - low || 1;
  const rough = span / most;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((one) => one * power).find((one) => span / one <= most);
  const found = [];
  for (let at = Math.ceil(low / step) * step; at <= high + step / 1e6; at += step) found.push(at);
  return found;
}

// Planting date by film: shade and number tell the mean; a frame the choice, a star the best, an
// exclamation mark what the engine flags.
function drawMap(values, films, chosen, best, told) {
  const columns = data.short_dates.length;
  // Where there is little room the film's name stands above its row instead of before it.
  const narrow = !printing && document.getElementById("draw-map").clientWidth < 560;
  const above = narrow ? 20 : 0;
  const row = 34 + above, top = 22;
  const { root, width } = canvas("draw-map", top + row * films.length + 4, told.title, told.alt);
  const longest = 8 + 6.6 * Math.max(...films.map((name) => name.length));
  const left = narrow ? 0 : Math.min(0.34 * width, longest);
  const cell = (width - left - 2) / columns;
  const known = values.flat().filter((value) => value !== null);
  const low = Math.min(...known), high = Math.max(...known);
  const every = Math.ceil(46 / cell);
  data.short_dates.forEach((name, column) => {
    if (column % every === 0) label(root, name, left + cell * (column + 0.5), 14, "middle");
  });
  films.forEach((film, line_) => {
    const y = top + row * line_ + above;
    const most = Math.floor((narrow ? width : left) / 6.6);
    const name = film.length > most ? film.slice(0, most - 1) + "…" : film;
    label(root, name, 0, narrow ? y - 5 : y + 21, "start", "ink");
    values[line_].forEach((value, column) => {
      if (value === null) return;
      const share = high > low ? (value - low) / (high - low) : 1;
      const x = left + cell * column;
      root.append(svg("rect", {
        x: x + 1, y: y + 1, width: cell - 2, height: 32,
        style: `fill: color-mix(in srgb, var(--accent) ${Math.round(6 + 34 * share)}%, var(--ground))`,
      }));
      const star = best[0] === line_ && best[1] === column;
      const mark = told.flagged[line_][column] ? "!" : star ? "★" : "";
      const text = mark + (cell >= 38 ? told.short(value) : "");
      if (text) label(root, text, x + cell / 2, y + 21, "middle", "ink");
    });
  });
  if (chosen[0] >= 0) {
    root.append(svg("rect", {
      x: left + cell * chosen[1] + 1, y: top + row * chosen[0] + above + 1, width: cell - 2,
      height: 32, fill: "none", stroke: "var(--brick)", "stroke-width": 3,
    }));
  }
}

// First pick of each planting date: a bar from P10 to P90 with a mark at the middle.
function drawPicks(rows, chosen, told) {
  const { root, width, height } = canvas("draw-picks", 240, told.title, told.alt);
  const left = 56, right = 6, top = 8, bottom = 26;
  const days = Object.values(data.options).flatMap((one) => one.pick).filter(Boolean).map(time);
  if (!days.length) return label(root, words.never, width / 2, height / 2, "middle");
  const low = Math.min(...days) - 3 * DAY_MS, high = Math.max(...days) + 3 * DAY_MS;
  const y = (at) => top + ((height - top - bottom) * (high - at)) / (high - low);
  const step = (width - left - right) / rows.length;
  const gap = Math.max(7, Math.ceil((high - low) / DAY_MS / 5 / 7) * 7) * DAY_MS;
  for (let at = low + 3 * DAY_MS; at <= high; at += gap) {
    line(root, left, y(at), width - right, y(at));
    label(root, told.day(new Date(at)), left - 6, y(at) + 4, "end");
  }
  const every = Math.ceil(46 / step);
  rows.forEach((pick, column) => {
    const x = left + step * (column + 0.5);
    const mine = column === chosen;
    if (column % every === 0 || mine) {
      label(root, data.short_dates[column], x, height - 8, "middle", mine ? "ink" : "quiet");
    }
    if (!pick || pick[0] === null) return;
    const role = mine ? "brick" : "tide";
    const end = pick[2] === null ? top : y(time(pick[2]));
    line(root, x, y(time(pick[0])), x, end, role, {
      "stroke-width": mine ? 9 : 5, "stroke-dasharray": pick[2] === null ? "4 3" : "none",
    });
    if (pick[1] === null) return;
    root.append(svg("circle", {
      cx: x, cy: y(time(pick[1])), r: mine ? 6 : 4, fill: "var(--ground)",
      stroke: `var(--${role})`, "stroke-width": 2.5,
    }));
  });
}

// Trays of each week: the band holds 8 of 10 seasons, the line is the middle, dashes another way.
function drawWeeks(mine, other, told) {
  const { root, width, height } = canvas("draw-weeks", 260, told.title, told.alt);
  const left = 52, right = 8, top = 10, bottom = 40;
  const most = Math.max(1, ...data.options.flatMap((one) => one.trays.map((row) => row[2])));
  const x = (week) => left + ((width - left - right) * week) / Math.max(1, data.weeks.length - 1);
  const y = (trays) => top + (height - top - bottom) * (1 - trays / most);
  for (const at of ticks(0, most)) {
    line(root, left, y(at), width - right, y(at));
    label(root, number(at), left - 6, y(at) + 4, "end");
  }
  const every = Math.ceil(data.weeks.length / Math.floor((width - left) / 70));
  data.week_days.forEach((name, week) => {
    if (week % every === 0 && x(week) < width - 30) label(root, name, x(week), height - 22, "middle");
  });
  label(root, told.across, left + (width - left) / 2, height - 4, "middle");
  const path = (option, level) =>
    option.trays.map((row, week) => `${x(option.from_week + week)},${y(row[level])}`);
  if (mine.trays.length) {
    const band = [...path(mine, 2), ...path(mine, 0).reverse()];
    root.append(svg("polygon", { points: band.join(" "), fill: "var(--brick)", "fill-opacity": 0.22 }));
  }
  const drawn = (option, role, dashes) => root.append(svg("polyline", {
    points: path(option, 1).join(" "), fill: "none", stroke: `var(--${role})`, "stroke-width": 2.5,
    "stroke-dasharray": dashes,
  }));
  if (other) drawn(other, "tide", "6 4");
  drawn(mine, "brick", "none");
  const legend = [[told.mine, "brick", "none"]];
  if (other) legend.push([told.other, "tide", "6 4"]);
  legend.forEach(([text, role, dashes], row) => {
    line(root, left + 8, top + 8 + 18 * row, left + 34, top + 8 + 18 * row, role, {
      "stroke-width": 2.5, "stroke-dasharray": dashes,
    });
    label(root, text, left + 40, top + 12 + 18 * row, "start", "ink");
  });
}
