// What the sums are written as, in the words and digits of pipeline/display/words/money.py, n_response.py and numbers.py.

function filled(template, ...values) { return values.reduce((text, value) => text.replace("{}", () => value), template); }

function fixed(value, digits) { // a tie goes to the even digit, as Python has it
  const scaled = Math.abs(value) * 10 ** digits;
  const isTie = scaled % 1 === 0.5 && Number.isInteger(value * 2 ** (digits + 1));
  return isTie && Math.floor(scaled) % 2 === 0 ? (Math.floor(scaled) / 10 ** digits).toFixed(digits) : Math.abs(value).toFixed(digits);
}

function amount(value) {
  const written = fixed(value, 2);
  return (value < 0 && Number(written) ? data.words.minus + data.words.joined : "") + data.currency + written;
}

function dollars(value) { // a net return, to the whole dollar; cents where that would be zero
  const written = fixed(value, fixed(value, 0) === "0" && fixed(value, 2) !== "0.00" ? 2 : 0);
  return (value < 0 && Number(written) ? data.words.minus + data.words.joined : "") + data.currency + written;
}

function price(value) { // a third decimal where there is one
  const written = fixed(value, 3).replace(/0$/, "");
  return (value < 0 && Number(written) ? data.words.minus + data.words.joined : "") + data.currency + written;
}

function number(value, digits) { // one that is not zero is not written as zero
  let shown = digits;
  while (value !== 0 && Number(fixed(value, shown)) === 0 && shown < digits + 2) { shown++; }
  const written = fixed(value, shown), [whole, ...rest] = written.split(".");
  const grouped = [whole.replace(/\B(?=(\d{3})+$)/g, ","), ...rest].join(".");
  return (value < 0 && Number(written) ? data.words.minus : "") + grouped;
}

function plain(value) { return String(Number(value.toFixed(4))); } // as a box has it

function size(value, c) { return number(value, c.digits) + " " + c.unit; }

function tenths(chance) { return Math.floor(10 * chance + 0.5); }

function inTen(chance) {
  const [least, most] = data.chance_shown;
  if (chance < least) { return data.words.below; }
  return chance > most ? data.words.above : Math.min(9, tenths(chance)) + " in 10";
}

function fieldsInTen(shares) { // at the lower end of the average's interval, the average, the upper end
  const low = tenths(shares[0]), high = tenths(shares[2]), [least, most] = data.chance_shown;
  if (high - low > data.widest_share) { return data.words.anything; }
  const share = inTen(shares[1]);
  return shares[1] < least || shares[1] > most ? share : filled(data.words.from_to, share, low, high);
}

function untold(c) { return filled(data.words.untold, c.behind); }

function interval(c, b) { return b.low === null ? untold(c) : dollars(b.low) + " to " + dollars(b.high); }

function answer(c, b, basis) {
  const w = data.words;
  if (!b.isDefined) { return w.undefined; }
  const even = filled(b.even < 0 ? w.loss : w.gain, size(Math.abs(b.even), c));
  if (b.low === null) { return filled(w.answer_untold, `${untold(c)} ${basis}`, dollars(b.net), even); }
  const found = c.is_few ? w.unsure : b.low > 0 ? w.pays : b.high < 0 ? w.costs : w.unsure;
  return filled(w.answer, `${found} ${basis}`, dollars(b.net), interval(c, b), even);
}

function rateWords(curve, found) {
  const w = data.words.rate, shown = (rate) => number(rate / curve.kg_ha_per_n_unit, 0);
  if (found === null) { return data.words.not_given; }
  if (found.rate === null) { return filled(w.not_found, shown(curve.highest)); }
  if (found.low === null && found.high === null) { return filled(curve.draws ? w.open_both : w.no_interval, shown(found.rate)); }
  if (found.high === null) { return filled(w.open_above, shown(found.rate), shown(found.low)); }
  if (found.low === null) { return filled(w.open_below, shown(found.rate), shown(found.high)); }
  return filled(w.closed, shown(found.rate), shown(found.low), shown(found.high));
}

function basisOf(mine) { // whose prices the figures are at, and whether the N rate is the reader's
  const words = data.words.basis, hasPrice = mine.some((name) => name !== "rate");
  return mine.includes("rate") ? (hasPrice ? words.both : words.rate) : words.prices;
}

function pricesSaid(own, mine, said) { // the reader's own first, then what is still the program's
  const told = (p) => said[p.name] || filled(p.says, p.name === "rate" ? plain(own.rate) : price(valueOf(own, p.name)));
  const yours = data.prices.filter((p) => mine.includes(p.name)).map(told);
  const rest = data.prices.filter((p) => p.name !== "rate" && !mine.includes(p.name)).map(told);
  const basis = basisOf(mine), head = `${basis[0].toUpperCase()}${basis.slice(1)}: ${yours.join(", ")}.`;
  return rest.length ? `${head} ${filled(data.words.all_else, data.fixed_on, rest.join(", "))}` : head;
}

function valueOf(own, name) { return name.startsWith("n-") ? own.n[name.slice(2)] : own[name]; }
