-- needs: trials.row_fates, raw.current_files, raw.rows, staging.sheets
-- One row per season and table: delivered rows against what became of them. `delivered` is counted in raw, apart from the fates.
create table trials.row_counts as
with delivered as (
  select s.season, s.table_name, count(*) as delivered
  from raw.rows as r inner join staging.sheets as s on s.sha256 = r.sha256 and s.raw_sheet is not distinct from r.sheet
  group by s.season, s.table_name
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
  coalesce(f.used, 0) as used, coalesce(f.set_aside, 0) as set_aside, coalesce(f.held, 0) as held, coalesce(f.superseded, 0) as superseded
from delivered as d left join fates as f on f.season = d.season and f.table_name = d.table_name
union all
-- rows of files that are not read, where they can be counted
select season, 'files not read', sum(held_rows), 0, 0, sum(held_rows), 0
from raw.current_files where held_because is not null group by season having sum(held_rows) > 0
order by all;
comment on table trials.row_counts is 'One row per season and table; used + set_aside + held + superseded = delivered';
