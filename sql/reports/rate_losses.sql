-- needs: estimates.rate_losses, estimates.source_prices, reference.n_unit, reference.nearly_as_well, trials.first_harvests
-- One row per crop, family and fertilized rate tested: net return lost per acre against the rate that pays best, and the band that program.yml declares.
create view reports.rate_losses as
with first_of as (
  select crop, min(first_harvest) as first_harvest from trials.first_harvests group by crop
)
select
  l.estimate_id, l.crop, l.family, l.n_rate_kg_ha / n.kg_ha_per_n_unit as n_rate, l.eonr / n.kg_ha_per_n_unit as eonr, n.n_unit,
  l.loss_kg_ha / p.worth_1_per_ac_kg_ha as loss, l.conf_low / p.worth_1_per_ac_kg_ha as conf_low, l.conf_high / p.worth_1_per_ac_kg_ha as conf_high,
  l.conf_level, l.interval_method, p.currency, p.prices_fixed_on, p.n_price_per_lb, p.worth_1_per_ac_kg_ha, l.loss_kg_ha, l.n_rate_kg_ha, l.price_ratio,
  l.n_site_years, l.n_curve_site_years, w."value" as nearly_within, w.unit as nearly_unit, w.basis as nearly_basis, w.fixed_on as nearly_fixed_on,
  coalesce(w.fixed_on > f.first_harvest, false) as nearly_is_late, l.warnings
from estimates.rate_losses as l
inner join estimates.source_prices as p on p.crop = l.crop and p.family = l.family
left join reference.nearly_as_well as w on true
left join first_of as f on f.crop = l.crop
cross join reference.n_unit as n
order by l.crop, l.family, l.n_rate_kg_ha;
comment on view reports.rate_losses is 'One row per tested N rate: net return lost against the best';
