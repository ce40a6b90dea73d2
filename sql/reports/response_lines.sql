-- needs: estimates.n_response, reference.display_units, reference.n_unit
-- One row per family and rate from zero to the highest tested: yield on the common quadratic-plateau curve, display units.
create view reports.response_lines as
select
  r.crop, r.family, s.rate / n.kg_ha_per_n_unit as n_rate, n.n_unit, u.unit,
  (r.a + r.b * (least(s.rate, r."join") - least(s.rate, r."join") ** 2 / (2 * r."join"))) / u.kg_ha_per_unit as yield
from estimates.n_response as r
inner join reference.display_units as u on u.crop = r.crop
cross join reference.n_unit as n
cross join lateral (select unnest(range(0, cast(floor(r.highest_rate) as bigint) + 1, 2)) as rate) as s
where r.level = 'pooled' and r.is_primary and r."join" > 0 and r.flag in ('found', 'join beyond the highest rate')
order by r.crop, r.family, s.rate;
comment on view reports.response_lines is 'One row per point of a common N response curve';
