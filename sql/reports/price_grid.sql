-- needs: estimates.price_grid, estimates.budgets, reports.comparisons
-- One row per comparison, premium and crop price: net change per acre and break-even gain.
create view reports.price_grid as
select
  g.comparison_id, c.position, c.crop, g.coated_premium, g.crop_price, g.net_change, g.conf_low, g.conf_high, g.break_even_gain, b.unit
from estimates.price_grid as g
inner join estimates.budgets as b on b.comparison_id = g.comparison_id and b.target = g.target
inner join reports.comparisons as c on c.comparison_id = g.comparison_id
order by c.position, g.coated_premium, g.crop_price;
comment on view reports.price_grid is 'One row per cell of a price grid';
