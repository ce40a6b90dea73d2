// The boxes: what is typed, remembered or linked, how it is checked, and where the page says what follows from it.
// All follows from `typed`, {name of a box: its text}; a box that is not in it shows the planning price or what follows from the others.
const data = JSON.parse(document.getElementById("own-prices-data").textContent);
const form = document.querySelector("form.own-prices");
const boxes = [...form.querySelectorAll("input")];
const spans = [...document.querySelectorAll("span[class^='own-']")].filter((span) => !form.contains(span));
const delivered = spans.map((span) => span.innerHTML);
const byName = Object.fromEntries(data.prices.map((p) => [p.name, p]));
let typed = {};

// A price has one say: what is typed last takes the place of what says the same.
function put(name, text) {
  const [kind, source] = [name.split("-")[0], name.split("-").slice(1).join("-")];
  const same = { n: ["ton-" + source], ton: ["n-" + source] }[kind] || [];
  if (data.coated && source === data.coated.key && kind !== "pct") { same.push("premium"); }
  if (data.coated && name === "premium") { same.push("n-" + data.coated.key, "ton-" + data.coated.key); }
  same.forEach((other) => { delete typed[other]; });
  typed[name] = text;
  if (text.trim() === "" && (kind === "ton" || kind === "pct")) { delete typed[name]; }
}

function asNumber(text) {
  const bare = text.trim().replace(data.currency, "").trim();
  return /^[-\u2212]?(\d+\.?\d*|\.\d+)$/.test(bare) ? Number(bare.replace("\u2212", "-")) : NaN;
}

function problemWith(text, p, units) { // in words; "" where the number can be used; units: of the box in one of the price
  const w = data.words, value = asNumber(text), planned = usedInstead(p);
  if (text.trim() === "") { return filled(w.empty, planned); }
  if (text.includes(",")) { return filled(w.comma, plain(p.planned * units), planned); }
  if (Number.isNaN(value)) { return filled(w.not_a_number, text.trim(), planned); }
  if (value < 0 && p.low >= 0) { return filled(w.negative, planned); }
  if (value >= p.low * units && value <= p.high * units) { return ""; }
  const [low, high] = [p.low, p.high].map((end) => (p.name === "rate" ? plain(end) : price(end * units)));
  return filled(p.name === "rate" ? w.not_tested : w.outside, text.trim(), low, high, planned);
}

function usedInstead(p) { return p.name === "rate" ? data.words.rates_tested : filled(data.words.planned, price(p.planned)); }

// The prices that what is typed comes to; what cannot be used is left at the planning price and named in `problems`.
function resolved() {
  const own = { rate: null, n: {} }, mine = [], said = {}, problems = {};
  const take = (p, box, units) => {
    if (!(box in typed)) { return p.planned; }
    const problem = problemWith(typed[box], p, units), found = asNumber(typed[box]) / units;
    if (problem) { problems[box] = problem + (box.startsWith("n-") && found > p.high ? " " + data.words.per_ton_hint : ""); return p.planned; }
    if (Math.abs(found - p.planned) < 1e-9) { return p.planned; }
    mine.push(p.name);
    return found;
  };
  const perLb = (p, key, known) => {
    if (!("ton-" + key in typed)) { return take(p, "n-" + key, 1); }
    const pct = percent(key, known, problems, p);
    if (pct === null) { return p.planned; }
    const found = take(p, "ton-" + key, (data.lb_per_ton * pct) / 100);
    if (mine.includes(p.name)) { said[p.name] = filled(data.words.per_ton, filled(p.says, price(found)), price(asNumber(typed["ton-" + key])), plain(pct)); }
    return found;
  };
  own.crop = take(byName.crop, "crop", 1);
  data.sources.forEach((s) => { own.n[s.key] = perLb(byName["n-" + s.key], s.key, s.n_pct); });
  own.premium = byName.premium ? premiumOf(own, mine, said, take, perLb) : 0;
  own.pass = byName.pass ? take(byName.pass, "pass", 1) : 0;
  if (byName.rate && "rate" in typed) {
    const rate = take(byName.rate, "rate", 1);
    own.rate = mine.includes("rate") ? rate : null;
  }
  return { own: own, mine: mine, said: said, problems: problems };
}

function premiumOf(own, mine, said, take, perLb) { // itself, or the price of the coated source less that of the uncoated
  const p = byName.premium, c = data.coated;
  if (!c || !("n-" + c.key in typed || "ton-" + c.key in typed)) { return take(p, "premium", 1); }
  const base = own.n[c.over];
  const found = perLb({ name: "premium", says: c.says, planned: base + p.planned, low: base + p.low, high: base + p.high }, c.key, c.n_pct);
  if (mine.includes("premium")) { said.premium = said.premium || filled(c.says, price(found)); }
  return Math.abs(found - base - p.planned) < 1e-9 ? p.planned : found - base;
}

function percent(key, known, problems, p) { // % N of a product: typed, or known from the planning prices
  const box = "pct-" + key, w = data.words, planned = usedInstead(p);
  if (!(box in typed)) {
    if (known === null) { problems[box] = filled(w.percent_wanted, planned); }
    return known;
  }
  const pct = asNumber(typed[box]), [low, high] = data.n_pct_range;
  if (pct >= low && pct <= high) { return pct; }
  problems[box] = filled(typed[box].includes(",") ? w.comma : w.percent, typed[box].includes(",") ? "46.5" : typed[box].trim(), planned);
  return null;
}

function textOf(name, own) { // what a box shows that nobody typed in
  const [kind, key] = [name.split("-")[0], name.split("-").slice(1).join("-")];
  if (name === "rate") { return plain(byName.rate.planned); }
  if (!key) { return plain(own[name]); }
  const s = data.coated && data.coated.key === key ? data.coated : data.sources.find((one) => one.key === key);
  const perLb = s === data.coated ? own.n[s.over] + own.premium : own.n[key];
  const typedPct = asNumber(typed["pct-" + key] || ""), pct = typedPct > 0 ? typedPct : s.n_pct;
  if (kind === "n") { return plain(perLb); }
  if (kind === "pct") { return s.n_pct === null ? "" : plain(s.n_pct); }
  return pct === null ? "" : (perLb * data.lb_per_ton * pct / 100).toFixed(2);
}

function write(name, words) { spans.filter((span) => span.className === "own-" + name).forEach((span) => { span.textContent = words; }); }

function showComparison(c, own) {
  const b = budget(c, own), told = b.isDefined ? chances(c, b.even) : null, k = "-" + c.position, none = data.words.not_given;
  write("net" + k, b.isDefined ? dollars(b.net) : none);
  write("interval" + k, b.isDefined ? interval(c, b) : none);
  write("even" + k, b.isDefined ? size(b.even, c) : none);
  write("average" + k, told ? inTen(told.average) : none);
  write("fields" + k, told ? fieldsInTen(told.fields) : none);
}

function showLead(c, own, basis) {
  const b = budget(c, own);
  write("answer", answer(c, b, basis));
  write("hectare", b.isDefined ? dollars(b.net / data.ha_per_acre) : data.words.not_given);
  ["added_returns", "reduced_costs", "added_costs", "reduced_returns"].forEach((box) => {
    const inBox = b.items.filter((item) => item[1] !== 0 && (item[1] > 0 ? item[2] : item[3]) === box);
    inBox.sort((x, y) => (x[0] < y[0] ? -1 : 1));
    write("what-" + box, inBox.map((item) => `${item[0]} ${fixed(item[1], 2)}`).join("; ") || "nothing");
    write("box-" + box, amount(inBox.reduce((sum, item) => sum + Math.abs(item[1]), 0)));
  });
  write("box-net", b.isDefined ? amount(b.net) : data.words.not_given);
  showGrid(c, own);
}

function showGrid(c, own) {
  data.grid.crops.forEach((crop, j) => {
    write("grid-crop-" + j, filled(data.words.grid_crop, price(crop * own.crop), data.words.per));
    data.grid.premiums.forEach((premium, i) => {
      const b = budget(c, { ...own, crop: crop * own.crop, premium: premium * own.premium });
      if (byName.premium) { write("grid-premium-" + i, price(premium * own.premium)); }
      write(`grid-${i}-${j}`, b.isDefined ? dollars(b.net) : data.words.not_given);
    });
  });
}

function showAll(found) {
  spans.forEach((span, i) => { if (span.innerHTML !== delivered[i]) { span.innerHTML = delivered[i]; } });
  if (found.mine.length === 0) { return; }
  const isPrice = found.mine.some((name) => name !== "rate");
  data.comparisons.forEach((c) => showComparison(c, found.own));
  showLead(data.comparisons[0], found.own, basisOf(found.mine));
  write("basis", basisOf(found.mine));
  write("priced-at", pricesSaid(found.own, found.mine, found.said));
  if (isPrice) {
    write("price-basis", data.words.basis.prices);
    data.curves.forEach((curve) => {
      write("eonr-" + curve.position, rateWords(curve, optimum(curve, found.own)));
      write("per-lb-" + curve.position, amount(sourcePrice(curve, found.own)));
    });
  }
}

function update(note, beingTyped) {
  const found = resolved();
  boxes.forEach((box) => {
    const text = box.name in typed ? typed[box.name] : textOf(box.name, found.own), problem = found.problems[box.name] || "";
    if (box !== beingTyped && box.value !== text) { box.value = text; }
    box.setAttribute("aria-invalid", problem ? "true" : "false");
    document.getElementById("own-message-" + box.name).textContent = problem;
  });
  form.querySelector(".own-note").textContent = note;
  showAll(found);
}

function known(text) { // of a link or of what is remembered, the parts that name a box: report.html#crop=4.2&pass=10
  return [...new URLSearchParams(text)].filter(([name]) => boxes.some((box) => box.name === name));
}

function asText() { return new URLSearchParams(typed).toString(); }

function remember() { // a browser may refuse to store anything
  try { Object.keys(typed).length ? localStorage.setItem(data.remember, asText()) : localStorage.removeItem(data.remember); } catch (refused) { return; }
}

function remembered() { try { return localStorage.getItem(data.remember) || ""; } catch (refused) { return ""; } }

function begin() { // a link that carries prices goes before what was typed here earlier
  const linked = known(location.hash.slice(1)), before = known(remembered());
  typed = {};
  (linked.length ? linked : before).forEach(([name, text]) => put(name, text));
  update(linked.length ? data.words.linked : before.length ? data.words.remembered : "");
}

form.addEventListener("input", (event) => { put(event.target.name, event.target.value); remember(); update("", event.target); });
form.addEventListener("submit", (event) => event.preventDefault());
form.addEventListener("reset", (event) => { event.preventDefault(); typed = {}; remember(); update(""); });
form.querySelector(".own-link").addEventListener("click", () => {
  const link = location.href.split("#")[0] + "#" + asText(), note = form.querySelector(".own-note");
  const shown = () => { note.textContent = filled(data.words.link, link); };
  navigator.clipboard ? navigator.clipboard.writeText(link).then(() => { note.textContent = data.words.copied; }, shown) : shown();
});
window.addEventListener("hashchange", () => { if (known(location.hash.slice(1)).length) { begin(); } });
form.hidden = false;
begin();
