-- needs: estimates.rate_means, reference.display_units, reference.n_unit
-- One row per crop, family and rate, display units: mean zero-N yield of the family plus the mean rise over zero-N in the site-years that have the rate.
-- A rise is over the zero-N of its own ladder, as on the common curve: two trials of a site-year lie on other soil.
create view reports.response_means as
with of_ladder as (
  select crop, family, site_year_id, trial_id, variant, round(n_rate_kg_ha) as rounded, avg(n_rate_kg_ha) as rate, avg(mean) as mean
  from estimates.rate_means group by crop, family, site_year_id, trial_id, variant, round(n_rate_kg_ha)
),
risen as (
  select m.crop, m.family, m.site_year_id, m.rounded, avg(m.rate) as rate, avg(z.mean) as zero_n, avg(m.mean - z.mean) as rise
  from of_ladder as m
  inner join of_ladder as z
    on z.crop = m.crop and z.family = m.family and z.trial_id = m.trial_id and z.variant = m.variant and z.rate = 0
  group by m.crop, m.family, m.site_year_id, m.rounded
),
base as (
  select crop, family, avg(zero_n) as zero_n, count(*) as n_of_family
  from risen where rate = 0 group by crop, family
)
select
  r.crop, r.family, avg(r.rate) / n.kg_ha_per_n_unit as n_rate, n.n_unit, (b.zero_n + avg(r.rise)) / u.kg_ha_per_unit as yield, u.unit, u.digits,
  count(*) as n_site_years, count(*) = b.n_of_family as has_all_site_years
from risen as r
inner join base as b on b.crop = r.crop and b.family = r.family
inner join reference.display_units as u on u.crop = r.crop
cross join reference.n_unit as n
group by r.crop, r.family, r.rounded, n.kg_ha_per_n_unit, n.n_unit, b.zero_n, b.n_of_family, u.kg_ha_per_unit, u.unit, u.digits
order by r.crop, r.family, n_rate;
comment on view reports.response_means is 'One row per family and N rate: mean zero-N yield plus the mean rise over zero-N of the site-years that have the rate';
