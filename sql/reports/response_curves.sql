-- needs: estimates.n_response, estimates.source_prices, reference.display_units, reference.n_unit
-- One row per crop, family of treatments and model: the common N response curve, its optimum rates and yields in display units.
create view reports.response_curves as
select
  r.estimate_id, r.crop, r.family, r.model, r.is_primary, r.flag, n.n_unit, u.unit, u.digits,
  r.a / u.kg_ha_per_unit as zero_n_yield, r.plateau / u.kg_ha_per_unit as plateau,
  r.aonr / n.kg_ha_per_n_unit as aonr, r.aonr_low / n.kg_ha_per_n_unit as aonr_low, r.aonr_high / n.kg_ha_per_n_unit as aonr_high,
  r.eonr / n.kg_ha_per_n_unit as eonr, r.eonr_low / n.kg_ha_per_n_unit as eonr_low, r.eonr_high / n.kg_ha_per_n_unit as eonr_high,
  r.highest_rate / n.kg_ha_per_n_unit as highest_rate, r.price_ratio, r.conf_level, r.interval_method,
  r.n_rates, r.n_site_years, r.n_clusters, r.aicc, r.a as a_kg_ha, r.b, r.c, r."join" as join_kg_ha, r.aonr as aonr_kg_ha, r.eonr as eonr_kg_ha, r.warnings,
  p.n_price_per_lb, p.currency, p.prices_fixed_on, p.lacking as price_lacking,
  p.priced_as, p.coated_n_fraction, p.harvest_cost, u.kg_ha_per_unit, n.kg_ha_per_n_unit
from estimates.n_response as r
inner join reference.display_units as u on u.crop = r.crop
left join estimates.source_prices as p on p.crop = r.crop and p.family = r.family
cross join reference.n_unit as n
where r.level = 'pooled'
order by r.crop, r.family, r.is_primary desc, r.model;
comment on view reports.response_curves is 'One row per common N response curve in display units';
