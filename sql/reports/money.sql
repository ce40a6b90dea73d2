-- needs: estimates.budgets, reports.comparisons, reference.crops
-- One row per comparison: its partial budget per acre (net change per hectare beside it), and all its formula takes.
create view reports.money as
select
  b.* exclude (comparison_id), b.comparison_id, c.position, c.says, c.crop, k.display_digits as digits,
  (b.conf_high - b.net_change) / b.value_per_unit as half_width,
  b.break_even_gain_kg_ha / c.kg_ha_per_unit as break_even_display,
  b.net_change / 0.40468564224 as net_change_per_ha
from estimates.budgets as b
inner join reports.comparisons as c on c.comparison_id = b.comparison_id
inner join reference.crops as k on k.word = c.crop
order by c.position;
comment on view reports.money is 'One row per partial budget';
