-- needs: staging.trials, trials.findings, checks.deciding, trials.sites, trials.held_trials, trials.still_to_harvest
-- One row per delivered trial with its status: accepted, held, planned, or not harvested.
-- A number that can be no harvest year is held, and is no season: nothing is published as of the year -1.
create table trials.trials as
with recursive delivered as (
  select * replace (
    case when (file, coalesce(sheet, ''), row_number) not in (
      select (file, coalesce(sheet, ''), row_number) from trials.findings
      where check_name = 'trials.season outside its hard range'
    ) then season end as season)
  from staging.trials
  where trial_id is not null
  qualify row_number() over (partition by trial_id order by file, row_number) = 1
),
-- each trial with those that stood on its plots before it, delivered or not; union ends where names go round
earlier as (
  select trial_id, same_plots_as as before_it from delivered where same_plots_as is not null
  union
  select e.trial_id, d.same_plots_as from earlier as e inner join delivered as d on d.trial_id = e.before_it
  where d.same_plots_as is not null
),
first_on_plots as (
  select e.trial_id, arg_min(e.before_it, (coalesce(d.season, 0), e.before_it)) as plot_set
  from (select * from earlier union select before_it, before_it from earlier) as e
  left join delivered as d on d.trial_id = e.before_it
  group by e.trial_id
)
select
  d.trial_id,
  s.place_key || '-' || d.season as site_year_id,
  s.place, d.site_id, d.season, d.crop, d.series, d.design,
  case
    when h.trial_id is not null then 'held'
    when a.trial_id is not null then 'planned'
    when d.outcome <> 'harvested' then 'not harvested'
    else 'accepted'
  end as status,
  case
    when h.trial_id is not null then h.reason
    when a.trial_id is not null then d.outcome || coalesce(', due ' || d.due, '')
    when d.outcome <> 'harvested' then d.outcome || coalesce('; ' || d.outcome_reason, '')
  end as status_reason,
  d.outcome, d.outcome_reason,
  s.drainage_class, s.drainage_group, d.artificial_drainage, s.texture, d.irrigated,
  d.previous_crop, d.tillage, d.cultivar, d.gin, known.row_spacing_cm(d.row_spacing_cm) as row_spacing_cm, d.planted, d.harvested,
  d.cooperator, d.paid_by, d.product_given_by, p.plot_set,
  d.file, d.sheet, d.delivery, d.row_number
from delivered as d
left join trials.sites as s on s.site_id = d.site_id
left join trials.held_trials as h on h.trial_id = d.trial_id
left join trials.still_to_harvest as a on a.trial_id = d.trial_id
left join first_on_plots as p on p.trial_id = d.trial_id
order by d.season, d.trial_id;
comment on table trials.trials is 'One row per trial, accepted, held, planned or not harvested; plot_set names the first trial on its plots, where trials share plots';
