-- needs: estimates.n_response, reference.display_units, reference.n_unit, reports.response_means
-- One row per family and rate, from zero to the highest rate that all its site-years have: yield on the common quadratic-plateau curve, display units.
create view reports.response_lines as
with drawn as (
  select m.crop, m.family, max(m.n_rate) as highest from reports.response_means as m where m.has_all_site_years group by m.crop, m.family
)
select
  r.crop, r.family, d.highest * s.step / 100 as n_rate, n.n_unit, u.unit,
  (r.a + r.b * (p.rate - p.rate ** 2 / (2 * r."join"))) / u.kg_ha_per_unit as yield
from estimates.n_response as r
inner join drawn as d on d.crop = r.crop and d.family = r.family
inner join reference.display_units as u on u.crop = r.crop
cross join reference.n_unit as n
cross join (select unnest(range(0, 101)) as step) as s
cross join lateral (select least(d.highest * s.step / 100 * n.kg_ha_per_n_unit, r."join") as rate) as p
where r.level = 'pooled' and r.is_primary and r."join" > 0 and r.flag in ('found', 'join beyond the highest rate')
order by r.crop, r.family, s.step;
comment on view reports.response_lines is 'One row per point of a common N response curve';
