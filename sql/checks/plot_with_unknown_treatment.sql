-- severity: holds the trial
-- says: every plot's treatment code must be listed in its trial's treatments
-- may follow from an unread file: of its folder
-- needs: staging.plots, staging.treatments, staging.trials
-- One finding per trial and code; for each the nearest code of the trial is proposed that it may be.
with unknown as (
  select p.file, p.sheet, min(p.row_number) as row_number, p.trial_id, p.treatment_code, count(*) as n
  from staging.plots as p
  inner join staging.trials as r on r.trial_id = p.trial_id
  left join staging.treatments as t on t.trial_id = p.trial_id and t.treatment_code = p.treatment_code
  where p.treatment_code is not null and t.treatment_code is null
  group by p.file, p.sheet, p.trial_id, p.treatment_code
),
known as (
  select u.trial_id, u.treatment_code, t.treatment_code as code,
    jaro_winkler_similarity(lower(regexp_replace(t.treatment_code, '[^a-zA-Z0-9]', '', 'g')), lower(regexp_replace(u.treatment_code, '[^a-zA-Z0-9]', '', 'g'))) as likeness
  from (select distinct trial_id, treatment_code from unknown) as u
  inner join staging.treatments as t on t.trial_id = u.trial_id
  where t.treatment_code is not null
),
in_one_block as (
  select distinct p.trial_id, p.treatment_code, q.treatment_code as code
  from staging.plots as p
  semi join unknown as u on u.trial_id = p.trial_id and u.treatment_code = p.treatment_code
  inner join staging.plots as q on q.trial_id = p.trial_id and q.block = p.block
),
-- a code that has its own plot in the same block is another treatment, unless the two have the same letters and digits
nearest as (
  select k.trial_id, k.treatment_code, arg_max(k.code, (k.likeness, k.code)) as code
  from known as k
  left join in_one_block as o on o.trial_id = k.trial_id and o.treatment_code = k.treatment_code and o.code = k.code
  where o.code is null or k.likeness = 1
  group by k.trial_id, k.treatment_code
)
select u.file, u.sheet, u.row_number, 'plots' as table_name, 'treatment_code' as column_name, u.trial_id, null as site_id,
  u.treatment_code || case when u.n > 1 then ' (' || u.n || ' plots)' else '' end as found, 'a code of this trial in the treatments table' as expected,
  'add the treatment, or correct the code' || coalesce('; nearest known code: "' || n.code || '"; or put into headings.yml: words: {plots: {treatment_code: {"' || u.treatment_code || '": "' || n.code || '"}}}', '') as mend
from unknown as u left join nearest as n on n.trial_id = u.trial_id and n.treatment_code = u.treatment_code
