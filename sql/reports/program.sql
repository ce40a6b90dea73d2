-- needs: reference.program, estimates.runs, trials.trials
-- The newest run is the one stored last (rowid): a clock may have been set back.
-- One row: the program, the run that made these tables, and whether anything is held back.
create view reports.program as
select p.program, p.display_units, p.may_be_named, r.*,
  (select count(*) from trials.trials where status = 'held') as n_held_trials,
  (select count(*) from trials.trials) as n_trials
from reference.program as p
cross join (select * from estimates.runs order by rowid desc limit 1) as r;
comment on view reports.program is 'One row: program, run and provisional state';
