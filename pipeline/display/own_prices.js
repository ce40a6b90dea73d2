// A partial budget at the reader's own prices; the formula is that of pipeline/estimates/partial_budget.py.
document.addEventListener("DOMContentLoaded", function () {
  "use strict";
  var data = JSON.parse(document.getElementById("own-prices-data").textContent);
  var form = document.querySelector("form.own-prices");
  var minus = "\u2212";

  function budget(c, own) {
    var scale = own.rate === null ? 1 : own.rate / c.treatment_rate_lb;
    var premium = c.coated_lb ? own.premium * c.coated_lb * scale : 0;
    var nitrogen = (c.treatment_rate_lb * c.treatment_n_price - c.comparator_rate_lb * c.comparator_n_price) * scale;
    var passes = own.pass * c.passes;
    var moisture = c.drying * c.comparator_yield * (c.treatment_points - c.comparator_points);
    var harvest = c.hauling_and_ginning + c.drying * c.treatment_points;
    var cost = premium + nitrogen + passes + moisture;
    var value = own.crop - harvest;
    var half = c.half_width * value;
    var net = c.gain * value - cost;
    var above = c.gain - cost / value;
    return {
      value: value, net: net, low: net - half, high: net + half, even: cost / value,
      average: c.gives_chances ? studentBelow(above / c.gain_std_error, c.df) : null,
      fields: c.gives_chances ? [-c.half_width, 0, c.half_width].map(function (d) { return normalBelow((above + d) / c.tau); }) : null,
      items: [
        ["yield at the crop price", c.gain * own.crop, "added_returns", "reduced_returns"],
        ["premium for coated nitrogen", premium, "added_costs", "reduced_costs"],
        ["nitrogen at the price of its source", nitrogen, "added_costs", "reduced_costs"],
        ["passes over the field", passes, "added_costs", "reduced_costs"],
        ["drying at each arm's own moisture", moisture, "added_costs", "reduced_costs"],
        ["harvest costs of the yield gained", c.gain * harvest, "added_costs", "reduced_costs"],
      ],
    };
  }

  function area(f, to) { // Simpson's rule from 0
    var n = 2000, h = to / n, sum = f(0) + f(to);
    for (var i = 1; i < n; i++) { sum += (i % 2 ? 4 : 2) * f(i * h); }
    return (sum * h) / 3;
  }

  function normalBelow(z) {
    var half = area(function (x) { return Math.exp((-x * x) / 2); }, Math.min(Math.abs(z), 12)) / Math.sqrt(2 * Math.PI);
    return z < 0 ? 0.5 - half : 0.5 + half;
  }

  function studentBelow(t, df) { // with t = sqrt(df) tan(angle) the density is cos(angle)^(df - 1)
    var f = function (angle) { return Math.pow(Math.cos(angle), df - 1); };
    var half = area(f, Math.atan(Math.abs(t) / Math.sqrt(df))) / area(f, Math.PI / 2) / 2;
    return t < 0 ? 0.5 - half : 0.5 + half;
  }

  function tenths(chance) { return Math.floor(10 * chance + 0.5); }

  function inTen(chance) {
    if (chance === null) { return data.words.not_given; }
    if (chance < 0.05 || chance > 0.95) { return chance < 0.05 ? data.words.below : data.words.above; }
    return Math.min(9, tenths(chance)) + " in 10";
  }

  function fieldsInTen(shares) { // at the lower end of the average's interval, the average, the upper end
    if (shares === null) { return data.words.not_given; }
    var low = tenths(shares[0]), high = tenths(shares[2]), share = inTen(shares[1]);
    if (high - low > data.words.widest_share) { return data.words.anything; }
    return shares[1] < 0.05 || shares[1] > 0.95 ? share : share + " (" + low + " to " + high + ")";
  }

  function amount(value, currency) {
    var written = Math.abs(value).toFixed(2);
    return (value < 0 && Number(written) ? minus + "\u2060" : "") + currency + written; // word joiner: no line break after the minus
  }

  function size(value, c) { // one that is not zero is not written as zero
    var digits = c.digits;
    while (value !== 0 && Number(value.toFixed(digits)) === 0 && digits < c.digits + 2) { digits++; }
    var written = Math.abs(value).toLocaleString("en-US", { minimumFractionDigits: digits, maximumFractionDigits: digits });
    return (value < 0 && Number(written.replace(/,/g, "")) ? minus : "") + written + " " + c.unit;
  }

  function write(name, words) {
    document.querySelectorAll(".own-" + name).forEach(function (span) { span.textContent = words; });
  }

  function untold(c) { return data.words.untold.replace("{}", c.n_seasons + (c.n_seasons === 1 ? " season" : " seasons")); }

  function show(own) {
    data.comparisons.forEach(function (c, i) {
      var b = budget(c, own), k = "-" + c.position, defined = b.value > 0, none = data.words.not_given;
      var told = c.half_width !== null;
      var range = told ? amount(b.low, c.currency) + " to " + amount(b.high, c.currency) : untold(c);
      write("net" + k, defined ? amount(b.net, c.currency) : none);
      write("interval" + k, defined ? range : none);
      write("even" + k, defined ? size(b.even, c) : none);
      write("average" + k, defined ? inTen(b.average) : none);
      write("fields" + k, defined ? fieldsInTen(b.fields) : none);
      if (i > 0) { return; }
      var found = b.low > 0 ? data.words.pays : b.high < 0 ? data.words.costs : data.words.unsure;
      var even = (b.even < 0 ? data.words.loss : data.words.gain).replace("{}", size(Math.abs(b.even), c));
      write("answer", !defined ? data.words.undefined : !told ?
        "Whether it pays on average " + untold(c) + ": " + amount(b.net, c.currency) + " per acre at the average gain. " + even :
        found + ": " + amount(b.net, c.currency) + " per acre (95\u00a0% interval " + range + "). " + even);
      ["added_returns", "reduced_costs", "added_costs", "reduced_returns"].forEach(function (box) {
        var inBox = b.items.filter(function (item) { return item[1] !== 0 && (item[1] > 0 ? item[2] : item[3]) === box; });
        inBox.sort(function (x, y) { return x[0] < y[0] ? -1 : 1; });
        write("what-" + box, inBox.map(function (item) { return item[0] + " " + Math.abs(item[1]).toFixed(2); }).join("; ") || "nothing");
        write("box-" + box, amount(inBox.reduce(function (sum, item) { return sum + Math.abs(item[1]); }, 0), c.currency));
      });
      write("box-net", amount(b.net, c.currency));
    });
  }

  function typed() {
    var own = { crop: data.comparisons[0].crop_price, premium: data.comparisons[0].coated_premium || 0,
      pass: data.comparisons[0].pass_cost || 0, rate: null };
    var wrong = [];
    form.querySelectorAll("input").forEach(function (input) {
      var value = Number(input.value);
      var isWrong = input.value === "" || !isFinite(value) || value < 0 || (value === 0 && (input.name === "crop" || input.name === "rate"));
      input.setAttribute("aria-invalid", isWrong ? "true" : "false");
      if (isWrong) { wrong.push(input.parentNode.firstChild.textContent.trim()); return; }
      // untouched, every comparison keeps the rate it was tested at
      if (input.name !== "rate" || input.value !== input.defaultValue) { own[input.name] = value; }
    });
    form.querySelector(".own-message").textContent = wrong.length ? "Not a usable number, so the planning value is used: " + wrong.join("; ") + "." : "";
    return own;
  }

  function fromAddress() { // report.html#crop=4.2&premium=0.2&pass=10&rate=100
    new URLSearchParams(location.hash.slice(1)).forEach(function (value, name) {
      var input = form.querySelector("input[name='" + name.replace(/[^a-z]/g, "") + "']");
      if (input) { input.value = value; }
    });
    show(typed());
  }

  form.hidden = false;
  form.addEventListener("input", function () { show(typed()); });
  form.addEventListener("submit", function (event) { event.preventDefault(); });
  form.addEventListener("reset", function () { setTimeout(function () { show(typed()); }, 0); });
  window.addEventListener("hashchange", fromAddress);
  fromAddress();
});
