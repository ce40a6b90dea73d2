-- needs: estimates.net_return_by_rate, estimates.source_prices, reference.n_unit
-- One row per crop and family: the rate of the highest mean net return, and the rates within 1 of money per acre of it.
create view reports.near_highest_returns as
select
  r.crop, r.family, n.n_unit, any_value(p.currency) as currency, max(r.n_site_years) as n_site_years,
  min(r.n_site_years) filter (where r.is_near_highest) as fewest_near,
  min(r.n_rate_kg_ha) filter (where r.is_highest) / n.kg_ha_per_n_unit as highest_at,
  min(r.n_rate_kg_ha) filter (where r.is_near_highest) / n.kg_ha_per_n_unit as near_from,
  max(r.n_rate_kg_ha) filter (where r.is_near_highest) / n.kg_ha_per_n_unit as near_to,
  max(r.n_rate_kg_ha) / n.kg_ha_per_n_unit as highest_rate,
  max(r.n_rate_kg_ha) filter (where r.is_tested_by_all_sources) / n.kg_ha_per_n_unit as tested_by_all_to,
  string_agg(distinct r.warnings, '; ') filter (where r.warnings <> '') as warnings
from estimates.net_return_by_rate as r
inner join estimates.source_prices as p on p.crop = r.crop and p.family = r.family
cross join reference.n_unit as n
group by r.crop, r.family, n.n_unit, n.kg_ha_per_n_unit
order by r.crop, r.family;
comment on view reports.near_highest_returns is 'One row per family: the N rates of the highest net return';
