-- needs: trials.row_fates, raw.current_files, raw.rows, staging.sheets, staging.rows_left_out
-- One row per season and table: delivered rows against what became of them. `delivered` is counted in raw, apart from the fates;
-- title rows, which have no cells there, are counted to it, and are among those set aside.
create table trials.row_counts as
with read as (
  select s.season, s.table_name, count(*) as n
  from raw.rows as r inner join staging.sheets as s on s.content = r.sha256 and s.raw_sheet is not distinct from r.sheet
  group by s.season, s.table_name
),
titles as (
  select c.season, o.table_name, count(*) as n
  from staging.rows_left_out as o inner join raw.current_files as c on c.file = o.file
  where o.what = 'title_row'
  group by c.season, o.table_name
),
delivered as (
  select season, table_name, coalesce(r.n, 0) + coalesce(t.n, 0) as delivered, coalesce(t.n, 0) as title_rows
  from read as r full join titles as t using (season, table_name)
),
fates as (
  select
    c.season, f.table_name,
    count(*) filter (where f.fate = 'used') as used,
    count(*) filter (where f.fate = 'set aside') as set_aside,
    count(*) filter (where f.fate = 'held') as held,
    count(*) filter (where f.fate = 'superseded') as superseded
  from trials.row_fates as f inner join raw.current_files as c on c.file = f.file
  group by c.season, f.table_name
)
select
  d.season, d.table_name, d.delivered,
  coalesce(f.used, 0) as used, coalesce(f.set_aside, 0) as set_aside, coalesce(f.held, 0) as held, coalesce(f.superseded, 0) as superseded, d.title_rows
from delivered as d left join fates as f on f.season = d.season and f.table_name = d.table_name
union all
-- rows of files that are not read, where they can be counted
select season, 'files not read', cast(sum(held_rows) as bigint), 0, 0, cast(sum(held_rows) as bigint), 0, 0
from raw.current_files where held_because is not null group by season having sum(held_rows) > 0
order by all;
comment on table trials.row_counts is 'One row per season and table; used + set_aside + held + superseded = delivered; title_rows are among set_aside';
