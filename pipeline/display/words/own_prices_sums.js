// Arithmetic at the reader's own prices: partial budget, chances and economic optimum rate. The formulas are those of
// pipeline/estimates/partial_budget.py, pay_chances.py and n_response/optimum.py; `data` is described in own_prices.py.
// own: {crop, premium, pass, n: {source: price per lb N}, rate: lb/ac or null for the rate each comparison was tested at}.

function budget(c, own) {
  const isTested = own.rate !== null && c.rates !== null && own.rate >= c.rates[0] && own.rate <= c.rates[1];
  const scale = isTested ? own.rate / c.treatment_rate_lb : 1;
  const spent = (rate, source) => (source ? rate * own.n[source] : 0);
  const premium = c.coated_lb ? own.premium * c.coated_lb * scale : 0;
  const nitrogen = (spent(c.treatment_rate_lb, c.treatment_priced_as) - spent(c.comparator_rate_lb, c.comparator_priced_as)) * scale;
  const passes = c.passes ? own.pass * c.passes : 0;
  const moisture = c.drying * c.comparator_yield * (c.treatment_points - c.comparator_points);
  const harvest = c.hauling_and_ginning + c.drying * c.treatment_points;
  const cost = premium + nitrogen + passes + moisture;
  const value = own.crop - harvest;
  const net = c.gain * value - cost;
  const half = c.half_width === null ? null : c.half_width * value;
  return {
    isDefined: value > 0, net: net, even: cost / value,
    low: half === null ? null : net - half, high: half === null ? null : net + half,
    items: [
      ["yield at the crop price", c.gain * own.crop, "added_returns", "reduced_returns"],
      ["premium for coated nitrogen", premium, "added_costs", "reduced_costs"],
      ["nitrogen at the price of its source", nitrogen, "added_costs", "reduced_costs"],
      ["passes over the field", passes, "added_costs", "reduced_costs"],
      ["drying at each arm's own moisture", moisture, "added_costs", "reduced_costs"],
      ["harvest costs of the difference in yield", c.gain * harvest, "added_costs", "reduced_costs"],
    ],
  };
}

function chances(c, even) { // null where the trials let none be said
  if (!c.gives_chances) { return null; }
  const above = c.gain - even;
  return {
    average: studentBelow(above / c.gain_std_error, c.df),
    fields: [-c.half_width, 0, c.half_width].map((d) => normalBelow((above + d) / c.tau)),
  };
}

// The rate where the last kg of N just pays for itself, with its interval over the resampled curves; kg/ha.
// null: nothing pays. A rate or an end that is null lies beyond what was tested.
function optimum(curve, own) {
  const worth = own.crop - curve.harvest_cost;
  if (!(worth > 0)) { return null; }
  const ratio = (sourcePrice(curve, own) * (curve.kg_ha_per_unit / worth)) / data.kg_ha_per_lb_ac;
  const found = economicRate(curve.b, curve.join, ratio);
  const rate = found > curve.highest ? null : found;
  if (!curve.draws) { return { rate: rate, low: null, high: null }; }
  const rates = Float64Array.from(curve.draws.b, (b, i) =>
    curve.draws.join[i] === null ? -Infinity : economicRate(b, curve.joins[curve.draws.join[i]], ratio)).sort();
  let low = rates[curve.ranks[0]], high = rates[curve.ranks[1]];
  low = low === -Infinity ? null : Math.min(low, curve.highest, rate === null ? Infinity : rate);
  const printed = (end) => Math.round(end / curve.kg_ha_per_n_unit);
  high = printed(high) > printed(curve.highest) ? null : Math.max(high, rate === null ? -Infinity : rate);
  return { rate: rate, low: low, high: high };
}

function sourcePrice(curve, own) { // per lb N as it is spread
  return own.n[curve.priced_as] + (curve.coated_share ? own.premium * curve.coated_share : 0);
}

function economicRate(b, join, ratio) { return b > 0 ? Math.max(join * (1 - ratio / b), 0) : 0; }

function area(f, to) { // Simpson's rule from 0
  const n = 2000, h = to / n;
  let sum = f(0) + f(to);
  for (let i = 1; i < n; i++) { sum += (i % 2 ? 4 : 2) * f(i * h); }
  return (sum * h) / 3;
}

function normalBelow(z) {
  const half = area((x) => Math.exp((-x * x) / 2), Math.min(Math.abs(z), 12)) / Math.sqrt(2 * Math.PI);
  return z < 0 ? 0.5 - half : 0.5 + half;
}

function studentBelow(t, df) { // with t = sqrt(df) tan(angle) the density is cos(angle)^(df - 1)
  const f = (angle) => Math.pow(Math.cos(angle), df - 1);
  const half = area(f, Math.atan(Math.abs(t) / Math.sqrt(df))) / area(f, Math.PI / 2) / 2;
  return t < 0 ? 0.5 - half : 0.5 + half;
}
