-- needs: estimates.trait_gains, reports.comparisons, reference.program
-- One row per other trait, comparison and target: the average difference in the display unit of the trait.
create view reports.trait_gains as
select
  t.estimate_id, t.comparison_id, c.position, c.says, c.crop, t.trait, s.unit, s.digits, t.target, t.target = c.declared_target as is_declared,
  t.estimate / s.size as estimate, t.conf_level, t.conf_low / s.size as conf_low, t.conf_high / s.size as conf_high,
  t.estimate as estimate_stored, t.unit as unit_stored, t.n_site_years, t.n_seasons, t.shown_as, t.method, t.formula, t.rule, t.warnings
from estimates.trait_gains as t
inner join reports.comparisons as c on c.comparison_id = t.comparison_id
cross join reference.program as p
cross join lateral (
  select
    case when p.display_units <> 'us' then t.unit when t.unit in ('cm', 'mm') then 'in' when t.unit = 'plants/ha' then 'plants/ac' else t.unit end as unit,
    case when p.display_units <> 'us' then 1.0 when t.unit = 'cm' then 2.54 when t.unit = 'mm' then 25.4
      when t.unit = 'plants/ha' then 10000 / (43560 * 0.3048 * 0.3048) else 1.0 end as size,
    case when t.unit = 'plants/ha' then 0 when t.unit = 'mm' and p.display_units = 'us' then 3 when t.unit in ('pct', 'per plant') then 2 else 1 end as digits
) as s
order by c.position, t.trait, t.target;
comment on view reports.trait_gains is 'One row per average difference in another trait';
