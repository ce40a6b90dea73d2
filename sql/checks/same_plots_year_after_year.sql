-- severity: noted
-- says: a trial on the plots of an earlier one may show carryover, and the two share plot error
-- asks: analyst
-- needs: staging.trials
-- rows of: staging.trials
-- only where: t.same_plots_as is not null
with delivered as (
  select *, (select any_value(season) from staging.trials as e where e.trial_id = t.same_plots_as) as season_before
  from staging.trials as t
  where same_plots_as is not null
)
select file, sheet, row_number, 'trials' as table_name, 'same_plots_as' as column_name, trial_id, site_id,
  'the plots of ' || same_plots_as || case
    when same_plots_as = trial_id then ', the trial itself'
    when season_before is null then ', a trial that was not delivered'
    when season_before >= season then ', a trial of ' || season_before
    else '' end as found,
  case when same_plots_as = trial_id or season_before >= season then 'a trial of an earlier season' else 'fresh plots' end as expected,
  case when same_plots_as = trial_id or season_before >= season
    then 'name the trial that was on these plots before; leave the cell empty where the plots are fresh'
    else 'trials on the same plots stay site-years of their own, and the plot error they share is counted once; treatments may carry over from the earlier season, so read the gain with that in mind' end as mend
from delivered
