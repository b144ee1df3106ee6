// Numbers and sentences as the language of the page writes them; words and marks come with the data.

const words = data.words;

function said(key, values) {
  return words[key].replace(/\{(\w+)\}/g, (place, name) => (name in values ? values[name] : place));
}

// Rounded as the other pages do: a number half-way between two goes to the even one.
function rounded(value, digits) {
  const exact = value.toFixed(digits + 40);
  const cut = exact.indexOf(".") + 1 + digits;
  const head = digits ? exact.slice(0, cut) : exact.slice(0, cut - 1);
  const halfway = /^50*$/.test(exact.slice(cut));
  return halfway && "02468".includes(head.at(-1)) ? head : value.toFixed(digits);
}

function number(value, digits = 0) {
  const marks = data.format;
  if (value === null || value === undefined) return marks.absent;
  const [whole, decimals] = rounded(Math.abs(value), digits).split(".");
  const grouped =
    whole.length < marks.grouped_from ? whole : whole.replace(/\B(?=(\d{3})+$)/g, marks.thousands);
  const shown = decimals ? grouped + marks.decimal + decimals : grouped;
  return value < 0 && /[1-9]/.test(shown) ? marks.minus + shown : shown;
}

function percent(share) {
  const sign = data.format.before_percent + "%";
  if (share > 0 && share < 0.01) return "<1" + sign;
  if (share > 0.99 && share < 1) return ">99" + sign;
  return number(100 * share) + sign;
}

function amount(kind, value) {
  return number(value, data.digits[kind]) + "\u00a0" + data.units[kind];
}

function money(value) {
  return number(value) + "\u00a0" + data.currency;
}

// What the options are judged by: money, or fruit where no prices are stated.
function worth(value) {
  return data.judged === "margin" ? money(value) : amount("fruit", value);
}

function day(iso, short = false) {
  return iso === null ? words.not_reached : data.days[iso][short ? 1 : 0];
}

function spread(quantiles, told) {
  const [low, middle, high] = quantiles.map(told);
  return said("middle_and_range", { low, middle, high });
}

function amounts(quantiles, digits, unit) {
  const [low, middle, high] = quantiles.map((value) => number(value, digits));
  return said("amount_and_range", { low, middle, high, unit });
}

function tiltTold(tilt) {
  if (tilt === 0) return words.tilt_none;
  return said(tilt > 0 ? "tilt_early" : "tilt_late", { share: percent(Math.abs(tilt)) });
}
