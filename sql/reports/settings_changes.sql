-- needs: estimates.settings_changes, estimates.comparisons
-- One row per rule that was changed after a run had read the yields it is used with.
create view reports.settings_changes as
select s.comparison_id, k.crop, k.says, s.key, s.before, s.now, s.until_run, s.until_day
from estimates.settings_changes as s
left join estimates.comparisons as k on k.comparison_id = s.comparison_id
order by k.position nulls last, s.comparison_id nulls last, s.key;
comment on view reports.settings_changes is 'One row per rule that was changed after its yields were read';
