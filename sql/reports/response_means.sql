-- needs: estimates.rate_means, reference.display_units, reference.n_unit
-- One row per crop, family and rate: mean yield over the site-years that have the rate, display units.
create view reports.response_means as
with of_site_year as (
  select crop, family, site_year_id, round(n_rate_kg_ha, 1) as rate, avg(mean) as mean
  from estimates.rate_means group by crop, family, site_year_id, round(n_rate_kg_ha, 1)
),
counted as (
  select crop, family, count(distinct site_year_id) as n_of_family from of_site_year group by crop, family
)
select
  m.crop, m.family, m.rate / n.kg_ha_per_n_unit as n_rate, n.n_unit, avg(m.mean) / u.kg_ha_per_unit as yield, u.unit, u.digits,
  count(*) as n_site_years, count(*) = c.n_of_family as has_all_site_years
from of_site_year as m
inner join counted as c on c.crop = m.crop and c.family = m.family
inner join reference.display_units as u on u.crop = m.crop
cross join reference.n_unit as n
group by m.crop, m.family, m.rate, n.kg_ha_per_n_unit, n.n_unit, u.kg_ha_per_unit, u.unit, u.digits, c.n_of_family
order by m.crop, m.family, m.rate;
comment on view reports.response_means is 'One row per family and N rate: mean yield';
