-- severity: noted
-- says: the words on a treatment or an application can all be true together
-- needs: reference.words_that_do_not_go_together, staging.nitrogen_applications, staging.treatments, staging.trials
with rows_told as (
  select t.file, t.sheet, t.row_number, 'treatments' as table_name, t.trial_id, t.treatment_code as named, [
    'tillage ' || r.tillage, 'timing ' || t.timing, 'placement ' || t.placement, 'n_source ' || t.n_source, 'passes ' || t.passes,
    case when t.n_rate_kg_ha > 0 then 'N rate above zero' end
  ] as said
  from staging.treatments as t inner join staging.trials as r on r.trial_id = t.trial_id
  union all
  select a.file, a.sheet, a.row_number, 'nitrogen_applications', a.trial_id, a.treatment_code || ' ' || a.application, [
    'tillage ' || r.tillage, 'placement ' || a.placement, 'product ' || a.product,
    case when try_cast(regexp_extract(a.application, '\d{4}-\d{2}-\d{2}') as date) >= r.planted + 21 then 'applied three weeks or more after planting' end
  ]
  from staging.nitrogen_applications as a inner join staging.trials as r on r.trial_id = a.trial_id
),
words as (
  select regexp_replace(lower(first), '[^a-z0-9]', '', 'g') as first, regexp_replace(lower(second), '[^a-z0-9]', '', 'g') as second, why
  from reference.words_that_do_not_go_together
),
-- many rows say the same few things
statements as (
  select all_said, said, regexp_replace(lower(said), '[^a-z0-9]', '', 'g') as plain
  from (select said as all_said, unnest(said) as said from (select distinct said from rows_told))
),
pairs as (
  select f.all_said, f.said as first_said, s.said as second_said, any_value(w.why) as why
  from words as w
  inner join statements as f on f.plain = w.first
  inner join statements as s on s.plain = w.second and s.all_said = f.all_said
  group by f.all_said, f.said, s.said
),
together as (
  select distinct r.file, r.sheet, r.row_number, r.table_name, r.trial_id, r.named, p.first_said, p.second_said, p.why
  from rows_told as r inner join pairs as p on p.all_said = r.said
),
-- one finding for each pair of statements of a trial and table, at its first row
of_trial as (
  select trial_id, table_name, first_said, second_said, any_value(why) as why, arg_min(file, (file, row_number)) as file,
    arg_min(sheet, (file, row_number)) as sheet, arg_min(row_number, (file, row_number)) as row_number, list(named order by file, row_number) as named
  from together group by trial_id, table_name, first_said, second_said
)
select file, sheet, row_number, table_name, regexp_extract(second_said, '^\w+') as column_name, trial_id, null as site_id,
  first_said || ' with ' || second_said || ' (' || array_to_string(named[1:3], ', ') || case when len(named) > 3 then ' and ' || (len(named) - 3) || ' more' else '' end || ')' as found,
  'words that can all be true: ' || why as expected, 'correct the one that is mistyped; it changes no yield, but it says what was tried' as mend
from of_trial
