-- needs: estimates.substitution, reports.comparisons
-- One row per comparison, target and thing that is multiplied: half-width to expect, display unit.
create view reports.substitution as
select
  o.comparison_id, c.position, c.says, c.crop, c.unit, c.digits, o.target, o.target = c.declared_target as is_declared,
  o.grown, o.times, o.half_width / c.kg_ha_per_unit as half_width, o.reason
from estimates.substitution as o
inner join reports.comparisons as c on c.comparison_id = o.comparison_id
order by c.position, o.target, o.grown, o.times;
comment on view reports.substitution is 'One row per thing that is multiplied';
