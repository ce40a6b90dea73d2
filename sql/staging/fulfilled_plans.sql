-- needs: staging.translated_rows
-- One row per delivered row of a planned trial that is brought again with what came of it. A workbook, or the CSV files of a
-- delivery, bring a trial together; a table that is not brought again stays as it was planned.
create table staging.fulfilled_plans as
with told as (
  select trim(cells ->> 'trial_id') as trial_id, if(sheet is null, delivery, file) as source, trim(cells ->> 'season') as season,
    max(case lower(trim(cells ->> 'outcome')) when 'planned' then 1 when 'planted' then 2 when 'harvested' then 3 when 'lost' then 3 end) as how_far
  from staging.translated_rows where table_name = 'trials'
  group by all
),
-- of two that are as far none is the later one, and one of another season is no plan of it: both stay and the check on keys holds the trial
furthest as (
  select trial_id, arg_max(source, how_far) as source, max(how_far) as how_far
  from told where trial_id <> ''
  group by trial_id having count(*) > 1 and count(*) = count(how_far) and count(distinct season) = 1 and list_count(list_filter(list(how_far), lambda h: h = max(how_far))) = 1
),
rows as (
  select r.file, r.sheet, r.row_number, r.table_name, f.trial_id, f.source as later_source, if(r.sheet is null, r.delivery, r.file) as source
  from staging.translated_rows as r inner join furthest as f on f.trial_id = trim(r.cells ->> 'trial_id')
  where r.table_name in ('trials', 'treatments', 'nitrogen_applications')
)
select r.file, r.sheet, r.row_number, r.table_name, r.trial_id, 'superseded by ' || r.later_source || ', where the trial is no longer planned' as reason
from rows as r inner join told as t on t.trial_id = r.trial_id and t.source = r.source
where r.source <> r.later_source and t.how_far <= 2
  and (r.table_name, r.trial_id) in (select (b.table_name, b.trial_id) from rows as b where b.source = b.later_source);
comment on table staging.fulfilled_plans is 'One row per delivered row of a plan that what came of it replaces';
