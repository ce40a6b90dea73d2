-- needs: estimates.n_response, estimates.rate_means, reference.display_units, reference.n_unit
-- One row per family and rate, from zero to the highest rate that all its site-years reach: yield on the common quadratic-plateau curve, display units.
create view reports.response_lines as
with drawn as (
  select crop, family, min(reached) as highest
  from (
    select crop, family, site_year_id, max(n_rate_kg_ha) as reached
    from estimates.rate_means group by crop, family, site_year_id having min(n_rate_kg_ha) = 0 and max(n_rate_kg_ha) > 0
  )
  group by crop, family
)
select
  r.crop, r.family, d.highest * s.step / 100 / n.kg_ha_per_n_unit as n_rate, n.n_unit, u.unit,
  (r.a + r.b * p.rate + r.c * p.rate ** 2) / u.kg_ha_per_unit as yield
from estimates.n_response as r
inner join drawn as d on d.crop = r.crop and d.family = r.family
inner join reference.display_units as u on u.crop = r.crop
cross join reference.n_unit as n
cross join (select unnest(range(0, 101)) as step) as s
cross join lateral (select least(d.highest * s.step / 100, coalesce(r."join", d.highest)) as rate) as p
where r.level = 'pooled' and r.is_primary and r.flag in ('found', 'join beyond the highest rate')
order by r.crop, r.family, s.step;
comment on view reports.response_lines is 'One row per point of a common N response curve';
