-- needs: estimates.budgets, estimates.long_run_gains, estimates.pooled_gains, reports.comparisons, reference.crops, reference.rainfall_windows
-- One row per comparison: its partial budget per acre (net change per hectare beside it), and all its formula takes.
create view reports.money as
select
  b.* exclude (comparison_id), b.comparison_id, c.position, c.says, c.crop, k.display_digits as digits,
  case b.weather when 'long-run weather' then l.estimate_id else g.estimate_id end as gain_estimate_id,
  (b.conf_high - b.net_change) / b.value_per_unit as half_width,
  b.break_even_gain_kg_ha / c.kg_ha_per_unit as break_even_display, c.unit as display_unit,
  b.net_change / (units.m2_per_acre() / 10000) as net_change_per_ha,
  w.first_year as reference_first_year, w.last_year as reference_last_year
from estimates.budgets as b
inner join reports.comparisons as c on c.comparison_id = b.comparison_id
inner join reference.crops as k on k.word = c.crop
left join estimates.long_run_gains as l on l.comparison_id = b.comparison_id and l.target = b.target
left join estimates.pooled_gains as g
  on g.comparison_id = b.comparison_id and g.target = b.target and g.is_headline and g.moderator = 'all'
left join reference.rainfall_windows as w on w.crop = c.crop
order by c.position;
comment on view reports.money is 'One row per partial budget';
