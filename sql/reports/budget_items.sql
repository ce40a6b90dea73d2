-- needs: estimates.budget_items, reports.comparisons
-- One row per budget item of a comparison, in its box, per acre.
create view reports.budget_items as
select i.comparison_id, c.position, c.crop, i.target, i.box, i.item, i.amount
from estimates.budget_items as i inner join reports.comparisons as c on c.comparison_id = i.comparison_id
order by c.position, i.box, i.item;
comment on view reports.budget_items is 'One row per budget item';
