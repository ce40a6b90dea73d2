-- severity: noted
-- says: what the weather may explain, as program.yml declares it, can be worked out for each site-year
-- may follow from an unread file: of any folder
-- needs: trials.weather_covariates, trials.trials, trials.arms, trials.nitrogen_given
-- rows of: trials.weather_covariates
-- only where: t.kind = 'declared' and t.value is null
select distinct t.file, t.sheet, t.row_number, 'trials' as table_name, 'site_id' as column_name, t.trial_id, t.site_id,
  w.covariate || ': ' || w.reason as found,
  'what ' || w.covariate || ' is worked out from, ' || coalesce('from ' || (w.window_from - 30) || ' to ' || w.window_to, 'for its window') as expected,
  -- a release test is the lead's to give: no cooperator can deliver it
  case when w.reason like '%release test in program.yml%'
    then 'nothing to deliver: the program''s lead adds the release test to program.yml; until then'
    else 'deliver what is missing; until then'
  end || ' this site-year is left out of what the weather explains' as mend
from trials.weather_covariates as w
inner join trials.trials as t on t.site_year_id = w.site_year_id and t.status = 'accepted'
-- a trial without any application is told by another check
where w.kind = 'declared' and w.value is null
  and exists (select 1 from trials.arms as a where a.comparison_id = w.comparison_id and a.trial_id = t.trial_id)
  and t.trial_id in (select trial_id from trials.nitrogen_given)
