-- needs: estimates.interaction_tests, reports.comparisons
-- One row per comparison, target and moderator: is the gain shown to differ between its classes.
create view reports.interaction_tests as
select i.*, c.position, c.crop, i.target = c.declared_target as is_declared
from estimates.interaction_tests as i inner join reports.comparisons as c on c.comparison_id = i.comparison_id
order by c.position, i.target, i.moderator;
comment on view reports.interaction_tests is 'One row per interaction test';
