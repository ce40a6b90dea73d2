-- needs: estimates.agreement, reports.comparisons
-- One row per headline in the display unit: the same question by other roads.
create view reports.agreement as
select
  a.comparison_id, c.position, c.says, c.crop, c.unit, c.digits, a.target, a.target = c.declared_target as is_declared, a.leads,
  a.headline / c.kg_ha_per_unit as headline, a.std_error / c.kg_ha_per_unit as std_error,
  a.mixed_model / c.kg_ha_per_unit as mixed_model, a.two_stage / c.kg_ha_per_unit as two_stage,
  a.plain_mean / c.kg_ha_per_unit as plain_mean, a.third_road / c.kg_ha_per_unit as third_road,
  a.third_road_std_error / c.kg_ha_per_unit as third_road_std_error, a.agrees, a.sentence
from estimates.agreement as a
inner join reports.comparisons as c on c.comparison_id = a.comparison_id
order by c.position, a.target;
comment on view reports.agreement is 'One row per headline: the same question by other roads, in display units';
